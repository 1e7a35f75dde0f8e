"""Rates and comparisons with their intervals, and the hiding of small cells.

Observational data: what is computed here shows association, not what a shoe does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import gammaincinv, ndtri

SMALL_CELL = 5
"""Counts under this are hidden where stores are added up."""

TOO_FEW_EVENTS = 10
"""Fewer events than this in a group: the comparison is named as too few to say; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Rate:
    """Events per 1000 km with an exact Poisson interval; the rate is None where there was no exposure."""

    events: int
    exposure_km: float
    per_1000_km: float | None
    low: float | None
    high: float | None
    confidence: float
    method: str = "exact Poisson (Garwood 1936)"


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its interval; None where it cannot be estimated, with the reason in `note`."""

    value: float | None
    low: float | None
    high: float | None
    method: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Risk in a first group against a second one."""

    events: tuple[int, int]
    people: tuple[int, int]
    confidence: float
    ratio: Estimate
    difference: Estimate
    too_few: bool


def poisson_interval(events: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact two-sided limits of a Poisson mean.

    Parameters
    ----------
    events : int
        Events seen, 0 or more.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    tuple of float
        Lower and upper limit; the lower one is 0 for no events.

    Raises
    ------
    ValueError
        When a value is out of range.

    References
    ----------
    .. [1] Garwood F., Biometrika 28:437 (1936).

    Examples
    --------
    >>> round(poisson_interval(0)[1], 6)
    3.688879
    """
    _check_count("events", events)
    _check_confidence(confidence)
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if events == 0 else float(gammaincinv(events, tail))
    return low, float(gammaincinv(events + 1, 1.0 - tail))


def rate_per_1000_km(events: int, exposure_km: float, confidence: float = 0.95) -> Rate:
    """Rate of events per 1000 km.

    Parameters
    ----------
    events : int
        Events seen, 0 or more.
    exposure_km : float
        Distance covered by all the people at risk, km, 0 or more.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    Rate
        Per 1000 km, with its exact interval; None three times where the distance is 0.

    Raises
    ------
    ValueError
        When a value is out of range.

    Examples
    --------
    >>> rate_per_1000_km(10, 2500).per_1000_km
    4.0
    """
    low, high = poisson_interval(events, confidence)
    if not math.isfinite(exposure_km) or exposure_km < 0:
        raise ValueError(f"exposure_km must be >= 0 and finite, got {exposure_km!r}")
    if exposure_km == 0:
        return Rate(events, 0.0, None, None, None, confidence)
    scale = 1000.0 / exposure_km
    return Rate(events, float(exposure_km), events * scale, low * scale, high * scale, confidence)


def compare_risks(events: tuple[int, int], people: tuple[int, int], confidence: float = 0.95) -> Comparison:
    """Risk ratio and risk difference of a first group against a second one.

    Parameters
    ----------
    events : tuple of int
        People with the event in the first and the second group.
    people : tuple of int
        People in each group.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    Comparison
        Ratio with the interval on the log scale (Katz), difference with the simple normal interval (Wald). Not
        estimable, with the reason, where a group is empty, or for the ratio where a group has no event. `too_few`
        when either group has fewer than 10 events: show "too few to say" and not the numbers.

    Raises
    ------
    ValueError
        When a count is negative or more people have the event than there are.

    References
    ----------
    .. [1] Katz D. et al., Biometrics 34:469 (1978).

    Examples
    --------
    >>> round(compare_risks((189, 104), (11034, 11037)).ratio.value, 6)
    1.817802
    """
    for count, total in zip(events, people, strict=True):
        _check_count("events", count)
        _check_count("people", total)
        if count > total:
            raise ValueError(f"events must be <= people ({total}), got {count}")
    _check_confidence(confidence)
    z = float(ndtri(0.5 + confidence / 2.0))
    too_few = min(events) < TOO_FEW_EVENTS
    return Comparison(events, people, confidence, _ratio(events, people, z), _difference(events, people, z), too_few)


def hide_small(counts: Sequence[int], *, minimum: int = SMALL_CELL, total_shown: bool = True) -> tuple[int | None, ...]:
    """Hide counts that could point at a person.

    Parameters
    ----------
    counts : sequence of int, shape (n,)
        Counts, 0 or more.
    minimum : int
        Counts under this are hidden, 0 too.
    total_shown : bool
        Whether the sum is shown beside them: a single hidden count would then follow by subtraction, and so would
        several that add up to less than the minimum, so the smallest of the others is hidden with them.

    Returns
    -------
    tuple of (int or None)
        None where hidden.

    Raises
    ------
    ValueError
        When a count is negative.

    Examples
    --------
    >>> hide_small([3, 40, 12])
    (None, 40, None)
    """
    for count in counts:
        _check_count("counts", count)
    hidden = {index for index, count in enumerate(counts) if count < minimum}
    others = sorted((index for index in range(len(counts)) if index not in hidden), key=lambda index: counts[index])
    while total_shown and others and hidden and (len(hidden) == 1 or sum(counts[i] for i in hidden) < minimum):
        hidden.add(others.pop(0))
    return tuple(None if index in hidden else count for index, count in enumerate(counts))


def _ratio(events: tuple[int, int], people: tuple[int, int], z: float) -> Estimate:
    method = "log scale (Katz)"
    if 0 in people:
        return Estimate(None, None, None, method, "not estimable: a group has no people")
    if 0 in events:
        return Estimate(None, None, None, method, "not estimable: a group has no event")
    ratio = (events[0] / people[0]) / (events[1] / people[1])
    spread = math.sqrt(1 / events[0] - 1 / people[0] + 1 / events[1] - 1 / people[1])
    return Estimate(ratio, ratio * math.exp(-z * spread), ratio * math.exp(z * spread), method)


def _difference(events: tuple[int, int], people: tuple[int, int], z: float) -> Estimate:
    method = "normal (Wald)"
    if 0 in people:
        return Estimate(None, None, None, method, "not estimable: a group has no people")
    risks = [count / total for count, total in zip(events, people, strict=True)]
    spread = math.sqrt(sum(risk * (1 - risk) / total for risk, total in zip(risks, people, strict=True)))
    difference = risks[0] - risks[1]
    return Estimate(difference, difference - z * spread, difference + z * spread, method)


def _check_count(name: str, value: int) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise ValueError(f"{name} must be a whole number >= 0, got {value!r}")


def _check_confidence(confidence: float) -> None:
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
