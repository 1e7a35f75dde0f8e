"""Curves read at a mark from the points around it, with the standard uncertainty of that reading; many at once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
from scipy.optimize import isotonic_regression

from core.domain.units import FloatArray, IntArray
from labtests.domain.curves.curve_set import CurveSet, medians
from labtests.domain.curves.parabolas import fit_parabolas

# Fewer points around a mark carry no parabola and say too little about the noise.
MIN_POINTS = 7
# Up to this share of the rise from point to point, noise neither turns points round nor moves a crossing.
CLEAN = 0.1
# Residuals so many times the noise mean that the curve is no parabola there: the stretch is halved, twice at most.
MISFIT = 1.5
HALVINGS = 2
NEWTON_STEPS = 4
# Of a straight line between two equally noisy points, on average over where the mark is between them.
_BETWEEN_TWO = math.sqrt(2.0 / 3.0)
_TO_SIGMA = 1.482602218505602
_TINY = float(np.finfo(float).tiny)


Row = tuple[float, float, float]
"""Value, standard uncertainty and slope of one reading."""


@dataclass(frozen=True, slots=True, eq=False)
class LocalReadings:
    """What m curves give at a mark each, every array of shape (m,).

    The value read, its standard uncertainty, and load by position (slope) there.
    """

    value: FloatArray
    u: FloatArray
    slope: FloatArray

    @classmethod
    def none_yet(cls, m: int) -> Self:
        return cls(*np.full((3, m), np.nan))

    def chosen(self, which: IntArray) -> Self:
        return type(self)(self.value[which], self.u[which], self.slope[which])

    def put(self, which: IntArray, found: LocalReadings) -> None:
        self.value[which], self.u[which], self.slope[which] = found.value, found.u, found.slope

    def rows(self) -> list[Row]:
        return [*zip(self.value.tolist(), self.u.tolist(), self.slope.tolist(), strict=True)]


def noise_of(curves: CurveSet) -> FloatArray:
    """Standard deviation of each load's noise, from how far points are off the line through their neighbours.

    Parameters
    ----------
    curves : CurveSet
        Each in the order of its positions.

    Returns
    -------
    array of float, shape (m,)
        In the unit of the load; 0 below 7 points, and of piecewise straight lines with few corners.

    References
    ----------
    .. [1] Differences of neighbours: Gasser, Sroka and Jennen-Steinmetz, Biometrika 73 (1986) 625 (from memory);
       here with the median absolute deviation in the place of the mean square, against single points.

    Examples
    --------
    >>> noise_of(CurveSet.of([(np.arange(9.0), 2.0 * np.arange(9.0))])).tolist()
    [0.0]
    """
    noise = np.zeros(len(curves))
    long = np.flatnonzero(curves.sizes >= MIN_POINTS)
    if long.size:
        noise[long] = _noise(curves if long.size == len(curves) else curves.chosen(long))
    return noise


def _noise(curves: CurveSet) -> FloatArray:
    has_neighbours = np.ones(len(curves.load), dtype=bool)
    has_neighbours[curves.starts[:-1]] = has_neighbours[curves.starts[1:] - 1] = False
    inner = np.flatnonzero(has_neighbours)
    step, rise = np.diff(curves.position), np.diff(curves.load)
    before, after = step[inner - 1], step[inner]
    # The distance from the line through the neighbours, over how far its noise reaches for a noise of one.
    off = rise[inner - 1] * after - rise[inner] * before
    # Where the position stays, the distance is nought over nought.
    off /= np.sqrt(np.maximum(2.0 * (before * before + after * after + before * after), _TINY))
    starts = curves.starts - 2 * np.arange(len(curves) + 1)
    # The bend of the curve is in every distance alike and goes with their median.
    bend = np.repeat(medians(off, starts), np.diff(starts))
    return _TO_SIGMA * medians(np.abs(off - bend), starts)


def loads_at(curves: CurveSet, at: FloatArray, *, half_width: float) -> LocalReadings:
    """Read the load of each curve at a position.

    Parameters
    ----------
    curves : CurveSet
        Positions rise strictly and span `at`.
    at : array of float, shape (m,)
        Where to read each.
    half_width : float
        Of the stretch around `at` that may count, in the unit of position.

    Returns
    -------
    LocalReadings
        Value and u in the unit of the load.

    Notes
    -----
    Interpolated between the two points next to the mark where the noise is below a tenth of the rise from point to
    point, or the points are few; otherwise from a parabola by least squares, whose stretch is halved while its
    residuals are larger than the noise.

    References
    ----------
    .. [1] Local polynomial regression: Fan and Gijbels, Local Polynomial Modelling (1996), chapter 3 (from memory).

    Examples
    --------
    >>> curve = np.array([0.0, 10.0, 20.0]), np.array([0.0, 3.0, 6.0])
    >>> loads_at(CurveSet.of([curve]), np.array([15.0]), half_width=2.0).value.tolist()
    [4.5]
    """
    readings, left = LocalReadings.none_yet(len(curves)), np.arange(len(curves))
    for halving in range(HALVINGS + 1):
        reach = half_width / 2**halving
        first, after = (curves.count(curves.position < curves.on_points(end)) for end in (at - reach, at + reach))
        left = left[(after - first)[left] >= MIN_POINTS]
        if not left.size:
            break
        near = curves.stretches(left, first[left], after[left])
        noise, (start, end) = noise_of(near), near.ends(near.load)
        is_clean = noise <= CLEAN * np.abs(end - start) / (near.sizes - 1)
        clean = left[is_clean]
        readings.put(clean, _between(curves, clean, at, noise[is_clean]))
        scaled = (near.position - near.on_points(at[left])) / reach
        fit, middle = fit_parabolas(CurveSet(scaled, near.load, near.starts)), np.zeros(len(near))
        found = LocalReadings(fit.value(middle), fit.u(middle), fit.slope(middle) / reach)
        fits = ~is_clean & (fit.sd <= MISFIT * noise)
        readings.put(left[fits], found.chosen(np.flatnonzero(fits)))
        left = left[~is_clean & ~fits]
    rest = np.flatnonzero(np.isnan(readings.value))
    if rest.size:
        readings.put(rest, _between(curves, rest, at, noise_of(curves.chosen(rest))))
    return readings


def _between(curves: CurveSet, which: IntArray, at: FloatArray, noise: FloatArray) -> LocalReadings:
    """On the straight line between the two points next to the mark, for the chosen curves and their noise."""
    mark = at[which]
    after = np.clip(curves.count(curves.position < curves.on_points(at))[which], 1, curves.sizes[which] - 1)
    place = curves.starts[which] + after
    x0, x1, y0, y1 = curves.position[place - 1], curves.position[place], curves.load[place - 1], curves.load[place]
    slope = (y1 - y0) / (x1 - x0)
    value = np.where(mark == x1, y1, y0 + slope * (mark - x0))
    return LocalReadings(value, _BETWEEN_TWO * noise, slope)


def rising(load: FloatArray) -> FloatArray:
    """The loads as they would be without noise: never falling, and as near as possible to what was recorded.

    Loads that never fall are returned as they are.

    References
    ----------
    .. [1] Isotonic regression: Barlow, Bartholomew, Bremner and Brunk (1972) (from memory).

    Examples
    --------
    >>> rising(np.array([0.0, 3.0, 1.0, 4.0])).tolist()
    [0.0, 2.0, 2.0, 4.0]
    """
    if (load[1:] >= load[:-1]).all():
        return load
    return np.asarray(isotonic_regression(load).x, dtype=np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Where curves reach a load: the point before (or at) it, counted from each curve's first, and what is read there.

    `before` has shape (m,).
    """

    before: IntArray
    read: LocalReadings

    def rows(self) -> list[tuple[int, Row]]:
        return [*zip(self.before.tolist(), self.read.rows(), strict=True)]


def crossings(curves: CurveSet, level: FloatArray, mark: FloatArray, *, window: tuple[float, float]) -> Crossings:
    """Read where each curve reaches a load.

    Parameters
    ----------
    curves : CurveSet
        In the order of recording, at least 2 points each.
    level : array of float, shape (n,)
        The loads without noise, each curve's from `rising`; the last of a curve is ≥ its mark.
    mark : array of float, shape (m,)
        The load to reach, > 0.
    window : pair of float
        The loads between which points may count, as shares of the mark.

    Returns
    -------
    Crossings
        Value and u in the unit of position; the slope is infinite where the load rises on the spot.

    Notes
    -----
    As `loads_at`. Where noise is larger than the rise from point to point, the first point at the mark is one that the
    noise lifted: the first crossing comes too early, and more so the more points there are.

    Examples
    --------
    >>> load = np.array([0.0, 10.0, 20.0])
    >>> curve = CurveSet.of([(np.array([0.0, 1.0, 2.0]), load)])
    >>> crossings(curve, load, np.array([15.0]), window=(0.0, 1.5)).read.value.tolist()
    [1.5]
    """
    before, plain = _first_crossings(curves, level, mark)
    read, left = LocalReadings.none_yet(len(curves)), np.arange(len(curves))
    for halving in range(HALVINGS + 1):
        low, high = (mark + (share - 1.0) * mark / 2**halving for share in window)
        first, after = curves.count(level < curves.on_points(low)), curves.count(level <= curves.on_points(high))
        left = left[(after - first)[left] >= MIN_POINTS]
        if not left.size:
            break
        near = curves.stretches(left, first[left], after[left])
        noise, starts = noise_of(near), curves.starts[left]
        rise = level[starts + after[left] - 1] - level[starts + first[left]]
        is_clean = noise <= CLEAN * rise / (near.sizes - 1)
        about = plain.chosen(left)
        found = _solved(near, mark[left], about=about.value, noise=noise)
        straight = LocalReadings(about.value, _BETWEEN_TWO * noise / about.slope, about.slope)
        solved = ~is_clean & ~np.isnan(found.value)
        read.put(left[is_clean], straight.chosen(np.flatnonzero(is_clean)))
        read.put(left[solved], found.chosen(np.flatnonzero(solved)))
        left = left[~is_clean & ~solved]
    rest = np.flatnonzero(np.isnan(read.value))
    if rest.size:
        read.put(rest, _first_with_doubt(curves, level, mark, which=rest, plain=plain.chosen(rest)))
    return Crossings(before, read)


def _solved(near: CurveSet, mark: FloatArray, *, about: FloatArray, noise: FloatArray) -> LocalReadings:
    """Where the parabolas through the points reach the marks; nan where one does not fit or never does."""
    offsets = near.position - near.on_points(about)
    first, last = near.ends(offsets)
    reach = np.maximum(np.abs(first), np.abs(last))
    is_solved = reach > 0.0
    reach = np.where(is_solved, reach, 1.0)
    fit = fit_parabolas(CurveSet(offsets / near.on_points(reach), near.load, near.starts))
    is_solved &= fit.sd <= MISFIT * noise
    at = np.zeros(len(near))
    for _ in range(NEWTON_STEPS):
        slope = fit.slope(at)
        is_solved &= slope > 0.0
        at -= (fit.value(at) - mark) / np.where(is_solved, slope, 1.0)
    slope = fit.slope(at) / reach
    is_solved &= (first <= at * reach) & (at * reach <= last) & (slope > 0.0)
    slope = np.where(is_solved, slope, 1.0)
    return LocalReadings(np.where(is_solved, about + at * reach, np.nan), fit.u(at) / slope, slope)


def _first_crossings(curves: CurveSet, level: FloatArray, mark: FloatArray) -> tuple[IntArray, LocalReadings]:
    """Where the levels first reach the marks, on the straight line between two points, as if there were no noise."""
    after = curves.count(level < curves.on_points(mark))
    is_at = level[curves.starts[:-1] + after] == mark
    # At a point of the curve itself the slope is that of the way to it, or from it where it is the first.
    start = curves.starts[:-1] + np.maximum(after - 1, 0)
    y0, y1, x0, x1 = level[start], level[start + 1], curves.position[start], curves.position[start + 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(x1 > x0, (y1 - y0) / (x1 - x0), np.inf)
        between = x0 + (mark - y0) / (y1 - y0) * (x1 - x0)
    value = np.where(is_at, curves.position[curves.starts[:-1] + after], between)
    slope = np.where(slope > 0.0, slope, np.inf)
    return np.where(is_at, after, after - 1), LocalReadings(value, np.zeros(len(curves)), slope)


def _first_with_doubt(
    curves: CurveSet, level: FloatArray, mark: FloatArray, *, which: IntArray, plain: LocalReadings
) -> LocalReadings:
    """The first crossings of the chosen curves, with u of where on a stretch within the noise the mark is."""
    noise = np.zeros(len(curves))
    noise[which] = noise_of(curves.chosen(which))
    first = curves.count(level < curves.on_points(mark - noise))
    after = curves.count(level <= curves.on_points(mark + noise))
    u = _BETWEEN_TWO * noise[which] / plain.slope
    for place, curve in enumerate(which.tolist()):
        stretch = curves.position[curves.starts[curve] + first[curve] : curves.starts[curve] + after[curve]]
        # Evenly spread over the stretch.
        u[place] = max(u[place], float(np.ptp(stretch)) / math.sqrt(12.0) if stretch.size else 0.0)
    return LocalReadings(plain.value, u, plain.slope)
