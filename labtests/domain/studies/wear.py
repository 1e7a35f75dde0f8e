"""Wear series: readings of one specimen, new and after distances, their trend and when it leaves a band."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from core.domain.figures import figure
from labtests.domain.studies.linear_fit import MIN_POINTS, LineFit, fit_line
from labtests.domain.studies.series import Series, finite_series
from labtests.domain.studies.variance import LEVEL


class Leaving(StrEnum):
    """The trend compared with the band."""

    LEAVES = "leaves the band within the tested distance"
    AFTER_LAST_TESTED = "would leave it after the last tested distance, if at all"
    OUTSIDE_FROM_START = "is outside the band from the first tested distance"
    NO_LIMIT_AHEAD = "moves away from every limit of the band"


LEAST_APART_KM = 0.001


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where the fitted trend leaves the band.

    `at_km` is None unless it leaves within the tested distance. `low_km` and `high_km` bound it at the level of the
    fit; None where the bound is outside the tested distances, or no bound can be given.
    """

    leaving: Leaving
    limit: float | None
    at_km: float | None
    low_km: float | None
    high_km: float | None
    words: str


@dataclass(frozen=True, slots=True)
class WearTrend:
    """Trend of a reading over km: change a km is `fit.slope`, with its standard error and interval."""

    fit: LineFit
    crossing: Crossing
    words: str


def wear_trend(
    worn_km: Series,
    readings: Series,
    *,
    lower: float | None = None,
    upper: float | None = None,
    level: float = LEVEL,
) -> WearTrend:
    """Regress a reading of one specimen on the distance worn, and find where the trend leaves a band.

    Parameters
    ----------
    worn_km : sequence of float, shape (n,)
        n ≥ 3, ≥ 0 km; they reach over a metre at least, for no slope can be estimated from less.
    readings : sequence of float, shape (n,)
        A stiffness, a score or any other reading, all of one unit.
    lower, upper : float or None
        Limits of the band in the unit of the readings, lower included, upper excluded; None where open.
    level : float
        Of the intervals.

    Returns
    -------
    WearTrend
        The fit and the crossing, with words for people.

    Raises
    ------
    ValueError
        For too few readings, one distance only, negative distances, or lower ≥ upper.

    Notes
    -----
    A straight line is an assumption; foam often changes fastest when new, so look at the residuals. Nothing is
    extrapolated: beyond the last tested distance it is only said that the trend has not left the band yet. The bounds
    of the crossing are those distances at which the interval of the line's height contains the limit (Fieller's); there
    are none where the slope does not differ measurably from 0.

    References
    ----------
    .. [1] Fieller E. C., Journal of the Royal Statistical Society B 16 (1954) 175 (from memory).

    Examples
    --------
    >>> trend = wear_trend([0, 100, 200, 300, 400], [66.0, 64.4, 61.9, 60.1, 58.0], lower=60.0, upper=70.0)
    >>> trend.crossing.leaving.name, round(trend.crossing.at_km)
    ('LEAVES', 302)
    """
    distances = finite_series("worn_km", worn_km, at_least=MIN_POINTS)
    if distances.min() < 0.0:
        raise ValueError(f"worn_km must be ≥ 0, got {distances.min()}")
    if np.ptp(distances) < LEAST_APART_KM:
        raise ValueError(f"worn_km must hold ≥ 2 different distances, got {distances[0]} {len(distances)} times")
    if lower is not None and upper is not None and not lower < upper:
        raise ValueError(f"lower must be < upper, got {lower} and {upper}")
    fit = fit_line(distances, finite_series("readings", readings, at_least=MIN_POINTS), level=level)
    return WearTrend(fit=fit, crossing=_crossing(fit, lower, upper), words=_trend_words(fit))


def _crossing(fit: LineFit, lower: float | None, upper: float | None) -> Crossing:
    start = _height(fit, fit.x_low)
    if (lower is not None and start < lower) or (upper is not None and start >= upper):
        words = f"the trend is outside the band already at the first tested distance, {figure(fit.x_low, 4)} km"
        return Crossing(Leaving.OUTSIDE_FROM_START, None, None, None, None, words)
    limit = lower if fit.slope < 0.0 else upper if fit.slope > 0.0 else None
    if limit is None:
        words = (
            f"the trend stays in the band over the tested {figure(fit.x_high, 4)} km and moves towards no limit of it"
        )
        return Crossing(Leaving.NO_LIMIT_AHEAD, None, None, None, None, words)
    at_km = max(fit.x_low, fit.x_mean + (limit - fit.y_mean) / fit.slope)
    low_km, high_km = _bounds(fit, limit)
    if at_km > fit.x_high:
        earliest = "" if low_km is None else f" (the bounds begin at {figure(low_km, 4)} km)"
        last_km = figure(fit.x_high, 4)
        words = f"the trend reaches {figure(limit)} after the last tested distance, {last_km} km, if at all{earliest}"
        return Crossing(Leaving.AFTER_LAST_TESTED, limit, None, low_km, None, words)
    words = f"the trend reaches {figure(limit)} at {figure(at_km, 4)} km ({_bound_words(fit, low_km, high_km)})"
    return Crossing(Leaving.LEAVES, limit, at_km, low_km, high_km, words)


def _bounds(fit: LineFit, limit: float) -> tuple[float | None, float | None]:
    """Bounds of the crossing within the tested distances: the ends of the quadratic that Fieller's theorem leads to."""
    spread = (fit.t * fit.residual_sd) ** 2
    square = fit.slope**2 - spread / fit.sum_of_squares_x
    if square <= 0.0:
        return None, None
    offset = fit.y_mean - limit
    middle = -offset * fit.slope / square
    half = math.sqrt(spread * (offset**2 / fit.sum_of_squares_x + square / fit.n)) / square
    low, high = fit.x_mean + middle - half, fit.x_mean + middle + half
    return (low if fit.x_low <= low <= fit.x_high else None), (high if fit.x_low <= high <= fit.x_high else None)


def _height(fit: LineFit, x: float) -> float:
    return fit.y_mean + fit.slope * (x - fit.x_mean)


def _bound_words(fit: LineFit, low_km: float | None, high_km: float | None) -> str:
    if not fit.is_slope_shown:
        return "no bounds: no trend detected"
    low = "before the first tested distance" if low_km is None else f"{figure(low_km, 4)} km"
    high = "after the last tested distance" if high_km is None else f"{figure(high_km, 4)} km"
    return f"{figure(100 * fit.level, 4)} % bounds: {low} to {high}"


def _trend_words(fit: LineFit) -> str:
    slope, low, high = (
        figure(100.0 * one, 3, plus=True) for one in (fit.slope, fit.slope_interval.low, fit.slope_interval.high)
    )
    words = f"{slope} a 100 km ({figure(100 * fit.level, 4)} % interval {low} to {high}, n = {fit.n})"
    return words if fit.is_slope_shown else f"{words}: no trend shown, the interval includes 0"
