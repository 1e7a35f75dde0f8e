"""A curve read at a mark from the points around it, with the standard uncertainty of that reading."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.optimize import isotonic_regression

from core.domain.units import FloatArray

# Fewer points around a mark carry no parabola and say too little about the noise.
MIN_POINTS = 7
# Up to this share of the rise from point to point, noise neither turns points round nor moves a crossing.
CLEAN = 0.1
# Residuals so many times the noise mean that the curve is no parabola there: the stretch is halved, twice at most.
MISFIT = 1.5
HALVINGS = 2
# Of a straight line between two equally noisy points, on average over where the mark is between them.
_BETWEEN_TWO = math.sqrt(2.0 / 3.0)
_TO_SIGMA = 1.482602218505602
# Below this share of their product the moments are equal but for rounding.
_SINGULAR = 1e-12
_TINY = float(np.finfo(float).tiny)


@dataclass(frozen=True, slots=True)
class LocalReading:
    """What a curve gives at a mark: the value read, its standard uncertainty, and load by position (slope) there."""

    value: float
    u: float
    slope: float


def noise_of(position: FloatArray, load: FloatArray) -> float:
    """Standard deviation of a load's noise, from how far points are off the line through their neighbours.

    Parameters
    ----------
    position, load : array of float, shape (n,)
        In the order of the positions.

    Returns
    -------
    float
        In the unit of the load; 0 below 7 points, and of piecewise straight lines with few corners.

    References
    ----------
    .. [1] Differences of neighbours: Gasser, Sroka and Jennen-Steinmetz, Biometrika 73 (1986) 625 (from memory);
       here with the median absolute deviation in the place of the mean square, against single points.

    Examples
    --------
    >>> import numpy as np
    >>> noise_of(np.arange(9.0), 2.0 * np.arange(9.0))
    0.0
    """
    if len(load) < MIN_POINTS:
        return 0.0
    step, rise = position[1:] - position[:-1], load[1:] - load[:-1]
    before, after = step[:-1], step[1:]
    # The distance from the line through the neighbours, over how far its noise reaches for a noise of one.
    off = rise[:-1] * after - rise[1:] * before
    reach = before * before
    reach += after * after
    reach += before * after
    reach *= 2.0
    # Where the position stays, the distance is nought over nought.
    off /= np.sqrt(reach) if float(reach.min()) > 0.0 else np.sqrt(np.maximum(reach, _TINY))
    # The bend of the curve is in every distance alike and goes with their median.
    return _TO_SIGMA * _median(np.abs(off - _median(off)))


def load_at(position: FloatArray, load: FloatArray, at: float, *, half_width: float) -> LocalReading:
    """Read the load at a position.

    Parameters
    ----------
    position, load : array of float, shape (n,)
        Positions rise strictly and span `at`.
    at : float
        Where to read.
    half_width : float
        Of the stretch around `at` that may count, in the unit of position.

    Returns
    -------
    LocalReading
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
    >>> import numpy as np
    >>> load_at(np.array([0.0, 10.0, 20.0]), np.array([0.0, 3.0, 6.0]), 15.0, half_width=2.0).value
    4.5
    """
    for halving in range(HALVINGS + 1):
        reach = half_width / 2**halving
        first, after = int(position.searchsorted(at - reach)), int(position.searchsorted(at + reach))
        near, loads = position[first:after], load[first:after]
        if len(near) < MIN_POINTS:
            break
        noise = noise_of(near, loads)
        if noise <= CLEAN * abs(float(loads[-1] - loads[0])) / (len(near) - 1):
            return _between(position, load, at, noise=noise)
        fit = _parabola((near - at) / reach, loads)
        if fit is not None and fit.sd <= MISFIT * noise:
            return LocalReading(fit.value(0.0), fit.u(0.0), fit.slope(0.0) / reach)
    return _between(position, load, at, noise=noise_of(position, load))


@dataclass(frozen=True, slots=True)
class Crossing:
    """Where a curve reaches a load: the index of the point before (or at) it, and the position read there."""

    before: int
    read: LocalReading


def rising(load: FloatArray) -> FloatArray:
    """The loads as they would be without noise: never falling, and as near as possible to what was recorded.

    Loads that never fall are returned as they are.

    References
    ----------
    .. [1] Isotonic regression: Barlow, Bartholomew, Bremner and Brunk (1972) (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> rising(np.array([0.0, 3.0, 1.0, 4.0])).tolist()
    [0.0, 2.0, 2.0, 4.0]
    """
    if (load[1:] >= load[:-1]).all():
        return load
    return np.asarray(isotonic_regression(load).x, dtype=np.float64)


def crossing(
    position: FloatArray, load: FloatArray, level: FloatArray, mark: float, *, window: tuple[float, float]
) -> Crossing:
    """Read where a curve reaches a load.

    Parameters
    ----------
    position, load : array of float, shape (n,)
        In the order of recording.
    level : array of float, shape (n,)
        The loads without noise, from `rising`; the last is ≥ `mark`.
    mark : float
        The load to reach.
    window : pair of float
        The loads between which points may count.

    Returns
    -------
    Crossing
        Value and u in the unit of position; the slope is infinite where the load rises on the spot.

    Notes
    -----
    As `load_at`. Where noise is larger than the rise from point to point, the first point at the mark is one that the
    noise lifted: the first crossing comes too early, and more so the more points there are.

    Examples
    --------
    >>> import numpy as np
    >>> load = np.array([0.0, 10.0, 20.0])
    >>> crossing(np.array([0.0, 1.0, 2.0]), load, load, 15.0, window=(0.0, 20.0)).read.value
    1.5
    """
    before, plain = _first_crossing(position, level, mark)
    low, high = window
    for halving in range(HALVINGS + 1):
        ends = mark + (low - mark) / 2**halving, mark + (high - mark) / 2**halving
        first, after = int(level.searchsorted(ends[0])), int(level.searchsorted(ends[1], side="right"))
        near, loads = position[first:after], load[first:after]
        if len(near) < MIN_POINTS:
            break
        noise = noise_of(near, loads)
        if noise <= CLEAN * float(level[after - 1] - level[first]) / (len(near) - 1):
            return Crossing(before, LocalReading(plain.value, _BETWEEN_TWO * noise / plain.slope, plain.slope))
        found = _solved(near, loads, mark, about=plain.value, noise=noise)
        if found is not None:
            return Crossing(before, found)
    noise = noise_of(position, load)
    u = max(_BETWEEN_TWO * noise / plain.slope, _undecided(position, level, mark, noise))
    return Crossing(before, LocalReading(plain.value, u, plain.slope))


@dataclass(frozen=True, slots=True)
class _Parabola:
    """a + b x + c x², the inverse of its normal equations (upper triangle by rows), and the residuals' deviation."""

    a: float
    b: float
    c: float
    inverse: tuple[float, float, float, float, float, float]
    sd: float

    def value(self, at: float) -> float:
        return self.a + at * (self.b + at * self.c)

    def slope(self, at: float) -> float:
        return self.b + 2.0 * self.c * at

    def u(self, at: float) -> float:
        i00, i01, i02, i11, i12, i22 = self.inverse
        square = at * at
        variance = i00 + 2.0 * at * i01 + square * (2.0 * i02 + i11) + 2.0 * at * square * i12 + square * square * i22
        return self.sd * math.sqrt(max(0.0, variance))


def _parabola(x: FloatArray, y: FloatArray) -> _Parabola | None:
    """Least squares on n ≥ 4 points within about -1 to 1; None where they do not determine a parabola.

    By the normal equations in closed form: on so short a stretch nothing is lost, and it takes a third of the time.
    """
    columns = np.empty((3, len(x)))
    columns[0], columns[1] = 1.0, x
    np.multiply(x, x, out=columns[2])
    # The moments of x to its fourth power, and those of y.
    (s0, s1, s2), (_, _, s3), (_, _, s4) = (columns @ columns.T).tolist()
    t0, t1, t2 = (columns @ y).tolist()
    c00, c01, c02 = s2 * s4 - s3 * s3, s2 * s3 - s1 * s4, s1 * s3 - s2 * s2
    determinant = s0 * c00 + s1 * c01 + s2 * c02
    if determinant <= _SINGULAR * s0 * s2 * s4:
        return None
    entries = c00, c01, c02, s0 * s4 - s2 * s2, s1 * s2 - s0 * s3, s0 * s2 - s1 * s1
    i00, i01, i02, i11, i12, i22 = (entry / determinant for entry in entries)
    a = i00 * t0 + i01 * t1 + i02 * t2
    b = i01 * t0 + i11 * t1 + i12 * t2
    c = i02 * t0 + i12 * t1 + i22 * t2
    off = y - np.array((a, b, c)) @ columns
    sd = math.sqrt(float(off @ off) / (s0 - 3.0))
    return _Parabola(a, b, c, (i00, i01, i02, i11, i12, i22), sd)


def _solved(position: FloatArray, load: FloatArray, mark: float, *, about: float, noise: float) -> LocalReading | None:
    """Where the parabola through the points reaches the mark; None where it does not fit or never does."""
    offsets = position - about
    reach = max(abs(float(offsets[0])), abs(float(offsets[-1])))
    if reach == 0.0:
        return None
    fit = _parabola(offsets / reach, load)
    if fit is None or fit.sd > MISFIT * noise:
        return None
    at = 0.0
    for _ in range(4):
        slope = fit.slope(at)
        if slope <= 0.0:
            return None
        at -= (fit.value(at) - mark) / slope
    if not float(offsets[0]) <= at * reach <= float(offsets[-1]) or fit.slope(at) <= 0.0:
        return None
    slope = fit.slope(at) / reach
    return LocalReading(about + at * reach, fit.u(at) / slope, slope)


def _between(position: FloatArray, load: FloatArray, at: float, *, noise: float) -> LocalReading:
    """On the straight line between the two points next to `at`."""
    after = min(max(int(position.searchsorted(at)), 1), len(position) - 1)
    (x0, x1), (y0, y1) = position[after - 1 : after + 1].tolist(), load[after - 1 : after + 1].tolist()
    slope = (y1 - y0) / (x1 - x0)
    value = y1 if at == x1 else y0 + slope * (at - x0)
    return LocalReading(value, _BETWEEN_TWO * noise, slope)


def _first_crossing(position: FloatArray, level: FloatArray, mark: float) -> tuple[int, LocalReading]:
    after = int(np.argmax(level >= mark))
    is_at = float(level[after]) == mark
    before = after if is_at else after - 1
    # At a point of the curve itself the slope is that of the way to it, or from it where it is the first.
    start = max(after - 1, 0)
    (y0, y1), (x0, x1) = level[start : start + 2].tolist(), position[start : start + 2].tolist()
    slope = (y1 - y0) / (x1 - x0) if x1 > x0 else math.inf
    value = float(position[after]) if is_at else x0 + (mark - y0) / (y1 - y0) * (x1 - x0)
    return before, LocalReading(value, 0.0, slope if slope > 0.0 else math.inf)


def _undecided(position: FloatArray, level: FloatArray, mark: float, noise: float) -> float:
    """u of where on a curve that stays within the noise of the mark the mark is: evenly spread over that stretch."""
    first, after = int(level.searchsorted(mark - noise)), int(level.searchsorted(mark + noise, side="right"))
    return float(np.ptp(position[first:after])) / math.sqrt(12.0) if after > first else 0.0


def _median(values: FloatArray) -> float:
    """As `numpy.median`, which takes five times as long on so few values."""
    half = len(values) // 2
    if len(values) % 2:
        return float(np.partition(values, half)[half])
    pair = np.partition(values, (half - 1, half))
    return 0.5 * float(pair[half - 1] + pair[half])
