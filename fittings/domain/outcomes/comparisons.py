"""Shares and rates with their limits, and two of them set against each other."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import bdtr, bdtrc, betaincinv


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its interval; None where it cannot be estimated, with the reason in `note`."""

    value: float | None
    low: float | None
    high: float | None
    method: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class RateRatio:
    """Ratio of a first rate to a second one, with its exact interval and two-sided p; `high` None: no upper limit."""

    value: float | None
    low: float
    high: float | None
    p: float
    confidence: float
    method: str = "exact, given the sum of the events (conditional binomial, central)"


def exact_share(events: int, people: int, confidence: float = 0.95) -> Estimate:
    """A share of people with exact limits.

    Parameters
    ----------
    events : int
        People of whom it is true, 0 to `people`.
    people : int
        All people, 0 or more.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    Estimate
        The share with its limits, which have a width for none and for all too; no value for nobody.

    Raises
    ------
    ValueError
        When a count or the confidence is out of range.

    References
    ----------
    .. [1] Clopper C.J., Pearson E.S., Biometrika 26:404 (1934).

    Examples
    --------
    >>> round(exact_share(0, 6).high, 4)
    0.4593
    """
    method = "exact (Clopper-Pearson)"
    _check(events, people, confidence)
    if people == 0:
        return Estimate(None, None, None, method, "nobody was asked")
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if events == 0 else float(betaincinv(events, people - events + 1, tail))
    high = 1.0 if events == people else float(betaincinv(events + 1, people - events, 1.0 - tail))
    return Estimate(events / people, low, high, method)


def difference_of(first: Estimate, second: Estimate) -> Estimate:
    """Difference of two independent estimates, from the limits of each.

    Parameters
    ----------
    first, second : Estimate
        With limits of one confidence.

    Returns
    -------
    Estimate
        First less second; each limit reaches as far as the limits of the two reach in its direction, squared and
        added. No value where one of them has none.

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] Newcombe R.G., Stat Med 17:873 (1998), method 10: for two shares with score limits.
    .. [2] Zou G.Y., Donner A., Stat Med 27:1693 (2008): for any limits.

    Examples
    --------
    >>> found = difference_of(Estimate(0.5, 0.3, 0.7, ""), Estimate(0.25, 0.1, 0.4, ""))
    >>> round(found.low, 4), found.value, round(found.high, 4)
    (0.0, 0.25, 0.5)
    """
    method = "limits of both, squared and added"
    one, other = _limits(first), _limits(second)
    if one is None or other is None:
        return Estimate(None, None, None, method, first.note or second.note)
    (a, a_low, a_high), (b, b_low, b_high) = one, other
    low = a - b - math.hypot(a - a_low, b_high - b)
    high = a - b + math.hypot(a_high - a, b - b_low)
    return Estimate(a - b, low, high, method)


def ratio_of(first: Estimate, second: Estimate) -> Estimate:
    """Ratio of two independent shares, from the limits of each on the log scale.

    Parameters
    ----------
    first, second : Estimate
        Shares, 0 or more, with limits of one confidence.

    Returns
    -------
    Estimate
        First by second; `high` None where it has no upper limit. No value where one of the shares has none or is 0.

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] Zou G.Y., Donner A., Stat Med 27:1693 (2008).

    Examples
    --------
    >>> round(ratio_of(exact_share(20, 50), exact_share(10, 50)).value, 4)
    2.0
    """
    method = "limits of both on the log scale, squared and added"
    one, other = _limits(first), _limits(second)
    if one is None or other is None:
        return Estimate(None, None, None, method, first.note or second.note)
    if one[0] == 0 or other[0] == 0:
        return Estimate(None, None, None, method, "no ratio: a group has no recurrence")
    (a, a_low, a_high), (b, b_low, b_high) = ([_log(value) for value in limits] for limits in (one, other))
    low = a - b - math.hypot(a - a_low, b_high - b)
    high = a - b + math.hypot(a_high - a, b - b_low)
    return Estimate(math.exp(a - b), math.exp(low), math.exp(high) if math.isfinite(high) else None, method)


def rate_ratio(events: tuple[int, int], exposure: tuple[float, float], confidence: float = 0.95) -> RateRatio:
    """Ratio of two rates of events, with an exact interval.

    Parameters
    ----------
    events : tuple of int
        Events in the first and the second group, 0 or more.
    exposure : tuple of float
        Time or distance at risk of each, any one unit, above 0.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    RateRatio
        First by second; no value where the second has no event. The p is twice the smaller tail, so that it agrees
        with the interval.

    Raises
    ------
    ValueError
        When a value is out of range.

    Notes
    -----
    Given the sum of the events, those of the first group are binomial; the limits are Clopper and Pearson's of its
    share. Without any event the limits are 0 and none.

    References
    ----------
    .. [1] Fay M.P., R Journal 2/1:53 (2010).

    Examples
    --------
    >>> found = rate_ratio((12, 6), (100.0, 100.0))
    >>> found.value, round(found.low, 4), round(found.high, 4)
    (2.0, 0.6947, 6.4947)
    """
    _check(events[0], sum(events), confidence)
    if not all(math.isfinite(part) and part > 0 for part in exposure):
        raise ValueError(f"exposure must be > 0 and finite, got {exposure!r}")
    scale = exposure[1] / exposure[0]
    value = events[0] / events[1] * scale if events[1] else None
    share = exact_share(events[0], sum(events), confidence)
    if share.low is None or share.high is None:
        return RateRatio(None, 0.0, None, 1.0, confidence)
    high = share.high / (1.0 - share.high) * scale if share.high < 1 else None
    return RateRatio(value, share.low / (1.0 - share.low) * scale, high, _central_p(events, exposure), confidence)


def _central_p(events: tuple[int, int], exposure: tuple[float, float]) -> float:
    share = exposure[0] / (exposure[0] + exposure[1])
    few = float(bdtr(events[0], sum(events), share))
    many = 1.0 if events[0] == 0 else float(bdtrc(events[0] - 1, sum(events), share))
    return min(1.0, 2.0 * min(few, many))


def _limits(estimate: Estimate) -> tuple[float, float, float] | None:
    if estimate.value is None or estimate.low is None or estimate.high is None:
        return None
    return estimate.value, estimate.low, estimate.high


def _log(value: float) -> float:
    return math.log(value) if value > 0 else -math.inf


def _check(events: int, people: int, confidence: float) -> None:
    for count in (events, people):
        if isinstance(count, bool) or not isinstance(count, int) or count < 0:
            raise ValueError(f"events and people must be whole numbers >= 0, got {count!r}")
    if events > people:
        raise ValueError(f"events must be <= people ({people}), got {events}")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
