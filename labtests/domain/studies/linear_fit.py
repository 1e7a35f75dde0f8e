"""Ordinary least squares of one reading on another: the line, its standard errors, and predictions within the data."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from core.domain.units import FloatArray
from labtests.domain.studies.series import Series, check_fraction, finite_series
from labtests.domain.studies.variance import LEVEL, Interval

MIN_POINTS = 3
"""Two points lie on any line: nothing would be left to tell the scatter from."""


@dataclass(frozen=True, slots=True, eq=False)
class LineFit:
    """y = intercept + slope x, fitted to n points; intervals at `level`, residuals in the order given."""

    n: int
    df: int
    x_mean: float
    y_mean: float
    x_low: float
    x_high: float
    sum_of_squares_x: float
    intercept: float
    slope: float
    intercept_se: float
    slope_se: float
    covariance: float
    residual_sd: float
    r_squared: float | None
    level: float
    t: float
    slope_interval: Interval
    residuals: FloatArray

    @property
    def is_slope_shown(self) -> bool:
        """Whether the interval of the slope leaves out 0."""
        return self.slope_interval.low > 0.0 or self.slope_interval.high < 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Prediction:
    """The line at the asked x, and the interval of its height (of the mean, not of single readings)."""

    value: FloatArray
    low: FloatArray
    high: FloatArray


def fit_line(x: Series, y: Series, *, level: float = LEVEL) -> LineFit:
    """Fit a straight line by ordinary least squares.

    Parameters
    ----------
    x, y : sequence of float, shape (n,)
        n ≥ 3, finite, x not all equal; all the scatter is taken to be in y, the same everywhere.
    level : float
        Of the intervals.

    Returns
    -------
    LineFit
        Residual standard deviation with n - 2 degrees of freedom; intervals by Student's t. R² is None where y is flat.

    Raises
    ------
    ValueError
        For too few points, x all equal, lengths that differ.

    References
    ----------
    .. [1] Checked against NIST Statistical Reference Datasets, linear regression, Norris.

    Examples
    --------
    >>> fit = fit_line([0.0, 100.0, 200.0, 300.0], [6.0, 5.6, 5.2, 4.8])
    >>> round(fit.slope, 6), round(fit.intercept, 6)
    (-0.004, 6.0)
    """
    check_fraction("level", level)
    xs, ys = finite_series("x", x, at_least=MIN_POINTS), finite_series("y", y, at_least=MIN_POINTS)
    if len(xs) != len(ys):
        raise ValueError(f"x and y must be equally many, got {len(xs)} and {len(ys)}")
    if np.ptp(xs) == 0.0:
        raise ValueError(f"x must hold ≥ 2 different values, got {xs[0]} {len(xs)} times")
    x_mean, y_mean = float(xs.mean()), float(ys.mean())
    dx, dy = xs - x_mean, ys - y_mean
    sxx, syy = float(dx @ dx), float(dy @ dy)
    if sxx == 0.0:
        raise ValueError(f"x must differ by more than rounding, got {xs.min()} to {xs.max()}")
    slope = float(dx @ dy) / sxx
    residuals = dy - slope * dx
    df = len(xs) - 2
    squared = float(residuals @ residuals)
    sd = math.sqrt(squared / df)
    slope_se = sd / math.sqrt(sxx)
    t = -float(stdtrit(df, (1.0 - level) / 2.0))
    return LineFit(
        n=len(xs),
        df=df,
        x_mean=x_mean,
        y_mean=y_mean,
        x_low=float(xs.min()),
        x_high=float(xs.max()),
        sum_of_squares_x=sxx,
        intercept=y_mean - slope * x_mean,
        slope=slope,
        intercept_se=sd * math.sqrt(1.0 / len(xs) + x_mean**2 / sxx),
        slope_se=slope_se,
        covariance=-x_mean * slope_se**2,
        residual_sd=sd,
        r_squared=1.0 - squared / syy if syy > 0.0 else None,
        level=level,
        t=t,
        slope_interval=Interval(slope - t * slope_se, slope + t * slope_se, level),
        residuals=residuals,
    )


def predict(fit: LineFit, x: Series) -> Prediction:
    """Height of the line, with the interval of the mean, at x within the fitted range.

    Parameters
    ----------
    fit : LineFit
        The line.
    x : sequence of float, shape (m,)
        Each from `fit.x_low` to `fit.x_high`.

    Raises
    ------
    ValueError
        For an x outside the data: nothing is extrapolated.

    Examples
    --------
    >>> fit = fit_line([0.0, 100.0, 200.0, 300.0], [6.0, 5.6, 5.2, 4.8])
    >>> round(float(predict(fit, [150.0]).value[0]), 6)
    5.4
    """
    xs = finite_series("x", x)
    outside = xs[(xs < fit.x_low) | (xs > fit.x_high)]
    if len(outside):
        raise ValueError(f"x must be ≥ {fit.x_low} and ≤ {fit.x_high}, where there are data, got {outside[0]}")
    value = fit.y_mean + fit.slope * (xs - fit.x_mean)
    half = fit.t * fit.residual_sd * np.sqrt(1.0 / fit.n + (xs - fit.x_mean) ** 2 / fit.sum_of_squares_x)
    return Prediction(value=value, low=value - half, high=value + half)
