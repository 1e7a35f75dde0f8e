"""Rates of people who may each have several complaints: an interval that does not take one person for several."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtrc, ndtr, ndtri

from fittings.domain.outcomes.comparisons import Estimate, RateRatio, rate_ratio
from fittings.domain.outcomes.rates import Rate, rate_per_1000_km


@dataclass(frozen=True, slots=True)
class PersonSums:
    """What a robust interval takes of people: sums over the events and the exposure of each.

    `parts` counts the rows that the people consist of, at least one each; more than the people where one is there
    with several complaints or shoes.
    """

    people: int
    parts: int
    events: int
    exposure: float
    events_squared: float
    events_exposure: float
    exposure_squared: float

    @property
    def clustered(self) -> bool:
        """Whether somebody is there more than once."""
        return self.parts > self.people


@dataclass(frozen=True, slots=True)
class RobustRate:
    """Events per unit of exposure with a standard error by person; None where it can't be estimated."""

    people: int
    events: int
    value: float | None
    standard_error: float | None
    log_standard_error: float | None
    low: float | None
    high: float | None
    method: str = "sandwich variance by person, normal on the log scale"


NOBODY = PersonSums(0, 0, 0, 0.0, 0.0, 0.0, 0.0)


def person_sums(events: ArrayLike, exposure: ArrayLike, parts: Iterable[int] = ()) -> PersonSums:
    """Add people up for a robust rate.

    Parameters
    ----------
    events : array_like of int, shape (n,)
        Events of each person, 0 or more.
    exposure : array_like, shape (n,)
        Exposure of each person, 0 or more, any unit.
    parts : iterable of int
        Of how many rows each person consists; one each where left out.

    Returns
    -------
    PersonSums

    Raises
    ------
    ValueError
        When lengths differ or a value is negative or not finite.

    Examples
    --------
    >>> person_sums([0, 2], [10.0, 10.0]).events_squared
    4.0
    """
    seen, watched = np.asarray(events, dtype=np.float64), np.asarray(exposure, dtype=np.float64)
    if seen.ndim != 1 or seen.shape != watched.shape:
        raise ValueError(f"events and exposure must be of one length, got {seen.shape} and {watched.shape}")
    for name, values in (("events", seen), ("exposure", watched)):
        if not np.all(np.isfinite(values)) or np.any(values < 0):
            raise ValueError(f"{name} must be >= 0 and finite for everyone")
    rows = list(parts) or [1] * seen.size
    return PersonSums(
        seen.size,
        sum(rows),
        int(seen.sum()),
        float(watched.sum()),
        float(seen @ seen),
        float(seen @ watched),
        float(watched @ watched),
    )


def robust_rate(sums: PersonSums, confidence: float = 0.95) -> RobustRate:
    """Rate of events with an interval that holds where events of one person come together.

    Parameters
    ----------
    sums : PersonSums
        People added up.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    RobustRate
        Per unit of exposure. Without exposure nothing; without an event a rate of 0 without an interval.

    Raises
    ------
    ValueError
        When the confidence is out of range.

    Notes
    -----
    The residual of a person is their events less the rate times their exposure; the variance of the rate is the sum
    of squared residuals over the squared exposure of all. Each person counts once, whatever their events have to do
    with each other. For few people with events the interval is too narrow.

    References
    ----------
    .. [1] Lin D.Y., Wei L.J., J Am Stat Assoc 84:1074 (1989), with a constant rate.

    Examples
    --------
    >>> round(robust_rate(person_sums([0, 0, 2, 2], [10.0] * 4)).standard_error, 4)
    0.05
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
    if sums.exposure <= 0:
        return RobustRate(sums.people, sums.events, None, None, None, None, None)
    rate = sums.events / sums.exposure
    if sums.events == 0:
        return RobustRate(sums.people, 0, 0.0, None, None, None, None)
    squares = sums.events_squared - 2.0 * rate * sums.events_exposure + rate**2 * sums.exposure_squared
    error = math.sqrt(max(squares, 0.0)) / sums.exposure
    spread = error / rate
    reach = math.exp(float(ndtri(0.5 + confidence / 2.0)) * spread)
    return RobustRate(sums.people, sums.events, rate, error, spread, rate / reach, rate * reach)


def design_effect(sums: PersonSums) -> float:
    """How many times larger variances are because events of one person come together.

    Parameters
    ----------
    sums : PersonSums
        People added up.

    Returns
    -------
    float
        The variance of the rate by person over that of independent events (Poisson), at least 1; 1 where everybody is
        there once, or nothing happened. The exposure must end with the event, as that of a recurrence does: only then
        are both variances alike for independent events that are not rare.

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] Kish L., Survey Sampling, Wiley (1965), section 8.2: the design effect.
    .. [2] Lin D.Y., Wei L.J., J Am Stat Assoc 84:1074 (1989): the variance by person; see `robust_rate`.

    Examples
    --------
    >>> round(design_effect(person_sums([0, 0, 3, 3], [30.0] * 4, [3] * 4)), 6)
    1.5
    """
    error = robust_rate(sums).standard_error
    if not sums.clustered or error is None:
        return 1.0
    return max(1.0, error**2 * sums.exposure**2 / sums.events)


def widened(estimate: Estimate, effect: float, *, most: float = 1.0) -> Estimate:
    """Move the limits of a share away from it, as its variance grows by a design effect.

    Parameters
    ----------
    estimate : Estimate
        A value from 0 to `most` with its limits.
    effect : float
        A design effect, 1 or more.
    most : float
        What the value can be at most.

    Returns
    -------
    Estimate
        Each limit as many times as far from the value as the square root of the effect, at most 0 and `most`.

    Raises
    ------
    ValueError
        When the effect is below 1.

    References
    ----------
    .. [1] Kish L., Survey Sampling, Wiley (1965), section 8.2.

    Examples
    --------
    >>> widened(Estimate(0.5, 0.25, 0.75, ""), 2.25).high
    0.875
    """
    if effect < 1.0:
        raise ValueError(f"effect must be >= 1, got {effect}")
    if effect == 1.0 or None in (estimate.value, estimate.low, estimate.high):
        return estimate
    reach, value = math.sqrt(effect), estimate.value or 0.0
    low, high = (value + reach * ((end or 0.0) - value) for end in (estimate.low, estimate.high))
    return replace(estimate, low=max(0.0, low), high=min(most, high))


def corrected_p(chi_squared: float, degrees: int, effect: float) -> tuple[float, float]:
    """Correct a chi-squared test for events of one person that come together.

    Parameters
    ----------
    chi_squared : float
        As if events were independent, 0 or more.
    degrees : int
        Degrees of freedom, 1 or more.
    effect : float
        A design effect, 1 or more.

    Returns
    -------
    tuple of float
        Chi-squared divided by the effect, and its p.

    Raises
    ------
    Nothing.

    Notes
    -----
    The first-order correction. With the largest effect of the groups it is rather too cautious.

    References
    ----------
    .. [1] Rao J.N.K., Scott A.J., J Am Stat Assoc 76:221 (1981).

    Examples
    --------
    >>> corrected_p(8.0, 1, 2.0)[0]
    4.0
    """
    corrected = chi_squared / effect
    return corrected, float(chdtrc(degrees, corrected))


def rate_of_people(sums: PersonSums, confidence: float = 0.95) -> Rate:
    """Recurrences per 1000 km; the interval is widened where somebody is there more than once.

    Parameters
    ----------
    sums : PersonSums
        People added up, exposure in km.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    Rate
        With the exact Poisson interval where everybody is there once, and otherwise with the lower of both lower and
        the higher of both upper limits, exact and robust: the exact one takes complaints for independent, the robust
        one is too narrow for few events.

    Raises
    ------
    ValueError
        When a value is out of range.

    Examples
    --------
    >>> rate_of_people(person_sums([0, 1, 2], [100.0, 200.0, 300.0])).per_1000_km
    5.0
    """
    exact, robust = rate_per_1000_km(sums.events, sums.exposure, confidence), robust_rate(sums, confidence)
    if not sums.clustered or None in (exact.low, exact.high, robust.low, robust.high):
        return exact
    low, high = min(exact.low or 0.0, 1000.0 * (robust.low or 0.0)), 1000.0 * (robust.high or 0.0)
    method = f"{exact.method}, widened by the robust interval by person"
    return replace(exact, low=low, high=max(exact.high or 0.0, high), method=method)


def rate_ratio_of_people(first: PersonSums, second: PersonSums, confidence: float = 0.95) -> RateRatio:
    """Ratio of two rates; the interval is widened where somebody is there more than once.

    Parameters
    ----------
    first, second : PersonSums
        People of each group added up; exposure in one unit, above 0.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    RateRatio
        With the exact conditional interval where everybody is there once, and otherwise with the outer limits of the
        exact and the robust one, and the larger p of both.

    Raises
    ------
    ValueError
        When a value is out of range.

    Notes
    -----
    The variances of the log rates by person are added up. Somebody who is in both groups makes the true variance
    smaller, so that the interval is rather too wide.

    Examples
    --------
    >>> one, other = person_sums([4, 0, 0], [10.0] * 3, [2, 1, 1]), person_sums([1, 1, 0], [10.0] * 3)
    >>> found = rate_ratio_of_people(one, other)
    >>> found.value, found.high >= rate_ratio((4, 2), (30.0, 30.0)).high
    (2.0, True)
    """
    exact = rate_ratio((first.events, second.events), (first.exposure, second.exposure), confidence)
    spreads = [robust_rate(sums, confidence).log_standard_error for sums in (first, second)]
    spread = math.hypot(*(part or 0.0 for part in spreads))
    if not (first.clustered or second.clustered) or exact.value is None or None in spreads or spread <= 0:
        return exact
    reach = math.exp(float(ndtri(0.5 + confidence / 2.0)) * spread)
    p = 2.0 * float(ndtr(-abs(math.log(exact.value)) / spread))
    return replace(
        exact,
        low=min(exact.low, exact.value / reach),
        high=None if exact.high is None else max(exact.high, exact.value * reach),
        p=max(exact.p, p),
        method=f"{exact.method}, widened by the robust interval by person",
    )
