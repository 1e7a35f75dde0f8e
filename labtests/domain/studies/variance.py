"""Intervals of standard deviations that come from mean squares."""

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
        At least one; their weighted sum is the variance, ≥ 0.
    level : float
        Between 0 and 1.

    Returns
    -------
    Interval
        In the unit of the readings; 0 to 0 where the variance is 0.

    Notes
    -----
    Exact (normal readings) for one mean square; by Satterthwaite's approximate degrees of freedom for several.

    References
    ----------
    .. [1] Satterthwaite F. E., Biometrics Bulletin 2 (1946) 110 (from memory).

    Examples
    --------
    >>> found = sd_interval([MeanSquare(1.0, 4.0, 10.0)])
    >>> round(found.low, 3), round(found.high, 3)
    (1.397, 3.51)
    """
    check_fraction("level", level)
    variance = sum(part.weight * part.value for part in parts)
    if variance <= 0.0:
        return Interval(0.0, 0.0, level)
    # By shares of the variance: its square can be too small to be kept.
    df = 1.0 / sum((part.weight * part.value / variance) ** 2 / part.df for part in parts)
    tail = (1.0 - level) / 2.0
    low, high = (math.sqrt(df * variance / float(chdtri(df, p))) for p in (tail, 1.0 - tail))
    return Interval(low, high, level)


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
    Approximate (normal readings). Its coverage is a little above `level`, never below ``2 * level - 1``.

    References
    ----------
    .. [1] Williams J. S., Biometrika 49 (1962) 278: interval of a variance component (from memory).

    Examples
    --------
    >>> found = between_sd_interval(MeanSquare(0.25, 9.0, 8.0), MeanSquare(0.25, 1.0, 18.0))
    >>> round(found.low, 2), round(found.high, 2)
    (0.83, 2.83)
    """
    check_fraction("level", level)
    tail = (1.0 - level) / 2.0
    variances = []
    for upper in (tail, 1.0 - tail):
        ratio = float(fdtri(of.df, against.df, 1.0 - upper))
        excess = of.weight * (of.value - ratio * against.value)
        variances.append(max(0.0, of.df * excess / float(chdtri(of.df, upper))))
    low, high = (math.sqrt(variance) for variance in variances)
    return Interval(low, high, level)
