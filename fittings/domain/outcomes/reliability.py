"""How well two or more raters agree on a number, in its own unit and as a share of how much people differ."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtri, fdtri, ndtri, stdtrit

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Coefficient:
    """An estimate with its interval; None where it cannot be estimated."""

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Reliability:
    """Intraclass correlations, standard errors of measurement and minimal detectable changes of `n` people.

    `one_way` is ICC(1,1), `two_way` ICC(2,1) (absolute agreement, raters drawn from many), `consistency` ICC(3,1)
    (systematic differences between raters left out). Standard errors and detectable changes are in the unit of the
    values, for agreement and for consistency; `shift` is the mean of the last rater less the first's.
    """

    n: int
    raters: int
    confidence: float
    between_people: float
    between_raters: float
    residual: float
    one_way: Coefficient
    two_way: Coefficient
    consistency: Coefficient
    sem_agreement: Coefficient
    sem_consistency: Coefficient
    mdc_agreement: float
    mdc_consistency: float
    shift: Coefficient


def reliability(values: ArrayLike, confidence: float = 0.95) -> Reliability:
    """Reliability of single values by several raters on the same people.

    Parameters
    ----------
    values : array_like, shape (n, k)
        A row a person, a column a rater, one unit, nothing missing; n and k at least 2.
    confidence : float
        Between 0 and 1; the detectable changes are always at 95 %.

    Returns
    -------
    Reliability
        Correlations are None where neither people nor raters differ, intervals None where the raters never differ.

    Raises
    ------
    ValueError
        When the shape is too small, a value is not finite, or the confidence is out of range.

    Notes
    -----
    SEM of consistency is the root of the residual mean square; SEM of agreement adds the variance between raters, cut
    off at 0. MDC95 = 1.96 √2 SEM. The interval of the SEM of agreement takes Satterthwaite's degrees of freedom and
    is wide with two raters.

    References
    ----------
    .. [1] Shrout P.E., Fleiss J.L., Psychol Bull 86:420 (1979); McGraw K.O., Wong S.P., Psychol Methods 1:30 (1996).
    .. [2] Weir J.P., J Strength Cond Res 19:231 (2005): SEM and minimal difference.

    Examples
    --------
    >>> found = reliability([[8, 9], [5, 5], [7, 8], [10, 10]])
    >>> round(found.two_way.value, 3), round(found.sem_agreement.value, 3)
    (0.945, 0.5)
    """
    table = _checked(values, confidence)
    n, k = table.shape
    people, raters = table.mean(axis=1), table.mean(axis=0)
    msr = k * float(people.var(ddof=1))
    msc = n * float(raters.var(ddof=1))
    rest = table - people[:, None] - raters[None, :] + table.mean()
    mse = float((rest**2).sum()) / ((n - 1) * (k - 1))
    msw = ((k - 1) * msc + (n - 1) * (k - 1) * mse) / (n * (k - 1))
    tail = 1 - (1 - confidence) / 2
    rater_part = max(0.0, (msc - mse) / n)
    agreement = _sem(mse + rater_part, _freedom(mse, msc, n, k, with_raters=msc > mse), tail)
    consistency = _sem(mse, (n - 1) * (k - 1), tail)
    return Reliability(
        n=n,
        raters=k,
        confidence=confidence,
        between_people=msr,
        between_raters=msc,
        residual=mse,
        one_way=_single(msr, msw, n, k, n * (k - 1), tail=tail),
        two_way=_two_way(msr, msc, mse, n, k, tail=tail),
        consistency=_single(msr, mse, n, k, (n - 1) * (k - 1), tail=tail),
        sem_agreement=agreement,
        sem_consistency=consistency,
        mdc_agreement=detectable_change(agreement.value or 0.0),
        mdc_consistency=detectable_change(consistency.value or 0.0),
        shift=_shift(table[:, -1] - table[:, 0], tail),
    )


def detectable_change(sem: float) -> float:
    """Minimal detectable change at 95 % of a standard error of measurement.

    Parameters
    ----------
    sem : float
        0 or more, any unit.

    Returns
    -------
    float
        1.96 √2 times it, in the same unit: two values that differ by less may be of a person who has not changed.

    Raises
    ------
    ValueError
        When it is negative.

    Examples
    --------
    >>> round(detectable_change(1.0), 3)
    2.772
    """
    if not sem >= 0:
        raise ValueError(f"sem must be >= 0, got {sem}")
    return float(ndtri(0.975)) * math.sqrt(2.0) * sem


def _checked(values: ArrayLike, confidence: float) -> Floats:
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != 2 or min(table.shape) < 2:
        raise ValueError(f"values must be of at least 2 people by 2 raters, got the shape {table.shape}")
    if not np.all(np.isfinite(table)):
        raise ValueError("values must be finite for every person and rater")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
    return table


def _single(between: float, within: float, n: int, k: int, freedom: int, *, tail: float) -> Coefficient:
    """ICC(1,1) or ICC(3,1), by the mean square that people are set against."""
    if between + (k - 1) * within == 0:
        return Coefficient(None, None, None)
    value = (between - within) / (between + (k - 1) * within)
    if within == 0:
        return Coefficient(value, None, None)
    ratio = between / within
    low = ratio / float(fdtri(n - 1, freedom, tail))
    high = ratio * float(fdtri(freedom, n - 1, tail))
    return Coefficient(value, (low - 1) / (low + k - 1), (high - 1) / (high + k - 1))


def _two_way(msr: float, msc: float, mse: float, n: int, k: int, *, tail: float) -> Coefficient:
    """ICC(2,1) with the interval of McGraw and Wong."""
    spread = msr + (k - 1) * mse + k * (msc - mse) / n
    if spread <= 0:
        return Coefficient(None, None, None)
    value = (msr - mse) / spread
    if mse == 0 or value <= -1 / (k - 1) or value >= 1:
        return Coefficient(value, None, None)
    ratio, part = msc / mse, n * (1 + (k - 1) * value) - k * value
    freedom = (n - 1) * (k - 1) * (k * value * ratio + part) ** 2 / ((n - 1) * (k * value * ratio) ** 2 + part**2)
    upper, lower = float(fdtri(n - 1, freedom, tail)), float(fdtri(freedom, n - 1, tail))
    rest = k * msc + (k * n - k - n) * mse
    low = n * (msr / upper - mse) / (rest + n * msr / upper)
    high = n * (lower * msr - mse) / (rest + n * lower * msr)
    return Coefficient(value, low, high)


def _freedom(mse: float, msc: float, n: int, k: int, *, with_raters: bool) -> float:
    """Degrees of freedom of the variance of agreement, by Satterthwaite."""
    of_rest = (n - 1) * (k - 1)
    if not with_raters:
        return of_rest
    rest, raters = (n - 1) / n * mse, msc / n
    return (rest + raters) ** 2 / (rest**2 / of_rest + raters**2 / (k - 1))


def _sem(variance: float, freedom: float, tail: float) -> Coefficient:
    if variance == 0:
        return Coefficient(0.0, None, None)
    # chdtri takes the upper tail.
    low, high = (freedom * variance / float(chdtri(freedom, at)) for at in (1 - tail, tail))
    return Coefficient(math.sqrt(variance), math.sqrt(low), math.sqrt(high))


def _shift(difference: Floats, tail: float) -> Coefficient:
    """Mean difference of two raters, with Student's interval."""
    n, mean = difference.size, float(difference.mean())
    if difference.std() == 0:
        return Coefficient(mean, None, None)
    reach = float(stdtrit(n - 1, tail)) * float(difference.std(ddof=1)) / math.sqrt(n)
    return Coefficient(mean, mean - reach, mean + reach)
