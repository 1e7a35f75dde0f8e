"""Intervals of standard deviations that come from mean squares."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import chdtri

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
