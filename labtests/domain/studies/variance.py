"""Intervals of standard deviations and of ratios of variances that come from mean squares, by modified large sample."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import chdtri, fdtri

from labtests.domain.studies.series import check_fraction

LEVEL = 0.95


@dataclass(frozen=True, slots=True)
class Interval:
    """A two-sided confidence interval; `level` is 0.95 for 95 %."""

    low: float
    high: float
    level: float


@dataclass(frozen=True, slots=True)
class MeanSquare:
    """A mean square, its degrees of freedom and the weight with which it enters a variance."""

    weight: float
    value: float
    df: float


def sd_interval(parts: Sequence[MeanSquare], *, level: float = LEVEL) -> Interval:
    """Confidence interval of a standard deviation whose variance is a weighted sum of mean squares.

    Parameters
    ----------
    parts : sequence of MeanSquare
        At least one, with weights ≥ 0; their weighted sum is the variance.
    level : float
        Between 0 and 1.

    Returns
    -------
    Interval
        In the unit of the readings; 0 to 0 where the variance is 0.

    Notes
    -----
    Exact (normal readings) for one mean square. Of several, each limit is exact where one of them dominates, and the
    coverage is about `level` elsewhere, also where a mean square that counts has one or two degrees of freedom: there
    Satterthwaite's approximate degrees of freedom give intervals that are far too narrow.

    References
    ----------
    .. [1] Graybill F. A., Wang C.-M., J. Am. Stat. Assoc. 75 (1980) 869 (citation from memory); checked against
       published limits of a gauge study.

    Examples
    --------
    >>> found = sd_interval([MeanSquare(1.0, 4.0, 10.0)])
    >>> round(found.low, 3), round(found.high, 3)
    (1.397, 3.51)
    """
    check_fraction("level", level)
    amounts = [part.weight * part.value for part in parts]
    variance = sum(amounts)
    tail = (1.0 - level) / 2.0
    below = math.hypot(*(_down(part.df, tail) * amount for part, amount in zip(parts, amounts, strict=True)))
    above = math.hypot(*(_up(part.df, tail) * amount for part, amount in zip(parts, amounts, strict=True)))
    return Interval(_root(variance - below), _root(variance + above), level)


def between_sd_interval(of: MeanSquare, against: MeanSquare, *, level: float = LEVEL) -> Interval:
    """Confidence interval of a standard deviation whose variance is the difference of two mean squares.

    Parameters
    ----------
    of, against : MeanSquare
        The variance is ``of.weight * (of.value - against.value)``; the weight of `against` is not used.
    level : float
        Between 0 and 1.

    Returns
    -------
    Interval
        In the unit of the readings, ≥ 0; 0 to 0 where the first mean square is far below the second.

    Notes
    -----
    Normal readings. Each limit is exact where the second mean square is 0 and where the variance is 0.

    References
    ----------
    .. [1] Ting N. et al., J. Stat. Comput. Simul. 35 (1990) 135 (citation from memory); checked against published
       limits of a gauge study.

    Examples
    --------
    >>> found = between_sd_interval(MeanSquare(0.25, 9.0, 8.0), MeanSquare(0.25, 1.0, 18.0))
    >>> round(found.low, 2), round(found.high, 2)
    (0.86, 2.83)
    """
    check_fraction("level", level)
    tail = (1.0 - level) / 2.0
    apart = of.value - against.value
    f_high, f_low = (float(fdtri(of.df, against.df, p)) for p in (1.0 - tail, tail))
    below = _spread(of, against, f_high, (_down(of.df, tail), _up(against.df, tail)))
    above = _spread(of, against, f_low, (_up(of.df, tail), _down(against.df, tail)))
    return Interval(_root(of.weight * (apart - below)), _root(of.weight * (apart + above)), level)


def variance_ratio_interval(
    of: MeanSquare, against: MeanSquare, total: Sequence[MeanSquare], *, level: float = LEVEL
) -> Interval:
    """Confidence interval of a variance that is the difference of two mean squares, over one that is a sum.

    Parameters
    ----------
    of, against : MeanSquare
        The variance above is ``of.weight * (of.value - against.value)``.
    total : sequence of MeanSquare
        Their weighted sum, > 0, is the variance below. The first is what varies most and has the fewest degrees of
        freedom (operators); `against` may be among the others.
    level : float
        Between 0 and 1.

    Returns
    -------
    Interval
        ≥ 0 and without a unit.

    Notes
    -----
    Normal readings. Each limit is exact where the variance above is 0, where `of` dominates, and where the first of
    `total` is all of it.

    References
    ----------
    .. [1] Burdick R. K., Borror C. M., Montgomery D. C., J. Qual. Technol. 35 (2003) 342, after Leiva R. A., Graybill
       F. A., Commun. Stat. 15 (1986) 1 (citations from memory); checked against published limits of a gauge study.

    Examples
    --------
    >>> error = MeanSquare(1.0, 1.0, 18.0)
    >>> found = variance_ratio_interval(MeanSquare(0.25, 90.0, 8.0), error, [error])
    >>> round(found.low, 1), round(found.high, 1)
    (7.2, 90.5)
    """
    check_fraction("level", level)
    tail = (1.0 - level) / 2.0
    low, high = (_ratio_limit(of, against, total, p) for p in (tail, 1.0 - tail))
    return Interval(low, high, level)


def _ratio_limit(of: MeanSquare, against: MeanSquare, total: Sequence[MeanSquare], p: float) -> float:
    first, *others = total
    f_against, f_first = (float(fdtri(of.df, other.df, 1.0 - p)) for other in (against, first))
    alone = of.df / float(chdtri(of.df, p))
    above = alone * (of.value - f_against * against.value)
    below = sum(part.weight * part.value for part in others) + alone * f_first * first.weight * first.value
    return max(0.0, of.weight * above / below)


def _down(df: float, tail: float) -> float:
    """Share of a mean square by which its lower limit is below it."""
    return 1.0 - df / float(chdtri(df, tail))


def _up(df: float, tail: float) -> float:
    """Share of a mean square by which its upper limit is above it."""
    return df / float(chdtri(df, 1.0 - tail)) - 1.0


def _spread(of: MeanSquare, against: MeanSquare, f: float, shares: tuple[float, float]) -> float:
    """How far a limit is from the difference: exact where either mean square vanishes, and where their ratio is `f`."""
    own, other = shares
    joint = ((f - 1.0) ** 2 - (own * f) ** 2 - other**2) / f
    square = (own * of.value) ** 2 + (other * against.value) ** 2 + joint * of.value * against.value
    return math.sqrt(max(0.0, square))


def _root(variance: float) -> float:
    return math.sqrt(max(0.0, variance))
