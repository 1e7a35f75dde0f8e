"""Isolated spikes of a recording: one to three points that jump away from their neighbours and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from core.domain.units import FloatArray
from labtests.domain.curves.curve_set import CurveSet
from labtests.domain.curves.curves import Points

BoolArray = npt.NDArray[np.bool_]
# A spike is off by more than this share of the whole curve, and by so many times more than half of its points are.
OF_RANGE = 0.02
OF_SCATTER = 12.0
OF_NEIGHBOUR = 0.25
# The running median passes over runs of three points; of short curves over a single one.
WIDTH, SHORT_WIDTH, SHORT_BELOW = 7, 3, 20
# Of fewer points nobody can say which one jumped.
LEAST_POINTS = 5


@dataclass(frozen=True, slots=True)
class Spike:
    """A point that a reading left out: position (° or mm) and load (N·m or N) as recorded."""

    position: float
    load: float


def find_spikes(position: FloatArray, load: FloatArray) -> BoolArray:
    """Mark the points of a curve that are spikes.

    Parameters
    ----------
    position, load : array of float, shape (n,)
        In the order of recording.

    Returns
    -------
    array of bool, shape (n,)
        True for a point whose load or position jumps against those recorded around it, and whose load is also off
        among those at neighbouring positions: where a rig turns round, only the first is so.

    Notes
    -----
    A point is off where it differs from the running median by more than 2 % of the curve's range and 12 times the
    median difference (8 times the noise). The running median of a curve that never falls is the curve: such a curve
    has no spikes.

    References
    ----------
    .. [1] Running medians: Tukey, Exploratory Data Analysis (1977), chapter 7 (from memory). Limits: common practice,
       no source.

    Examples
    --------
    >>> import numpy as np
    >>> find_spikes(np.arange(6.0), np.array([0.0, 1.0, 9.0, 3.0, 4.0, 5.0])).nonzero()[0].tolist()
    [2]
    """
    none = np.zeros(len(load), dtype=bool)
    if len(load) < LEAST_POINTS:
        return none
    order = np.argsort(position, kind="stable")
    along = none.copy()
    along[order] = _is_off(load[order])
    if not along.any():
        return none
    return along & (_is_off(load) | _is_off(position))


def without_spikes(curves: Sequence[Points]) -> list[tuple[Points, tuple[Spike, ...]]]:
    """Each curve without its spikes, and the spikes, which are the points that were recorded there."""
    if not curves:
        return []
    suspect = _may_have_spikes(CurveSet.of(curves)).tolist()
    return [_split(*points) if look else (points, ()) for points, look in zip(curves, suspect, strict=True)]


def _split(position: FloatArray, load: FloatArray) -> tuple[Points, tuple[Spike, ...]]:
    marked = find_spikes(position, load)
    named = zip(position[marked].tolist(), load[marked].tolist(), strict=True)
    return (position[~marked], load[~marked]), tuple(Spike(*point) for point in named)


def _may_have_spikes(curves: CurveSet) -> BoolArray:
    """A quick look: a spike takes a step there and one back, in load or in position. Most curves have none."""
    suspect = np.zeros(len(curves), dtype=bool)
    for values in (curves.load, curves.position):
        steps = np.diff(values, append=0.0)
        # From the last point of a curve nothing leads to the next one.
        steps[curves.starts[1:] - 1] = 0.0
        most, least = curves.extremes(values)
        there, back = curves.extremes(steps)
        suspect |= np.minimum(there, -back) > OF_RANGE / 2.0 * (most - least)
    return suspect


def _is_off(values: FloatArray) -> BoolArray:
    width = WIDTH if len(values) >= SHORT_BELOW else SHORT_WIDTH
    padded = np.pad(values, width // 2, mode="edge")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1)
    off = np.abs(values - middle)
    limit = max(OF_RANGE * float(np.ptp(middle)), OF_SCATTER * float(np.median(off)))
    # A point is not off for its neighbour's sake, which moves the median of few.
    beside = np.maximum(np.append(off[1:], 0.0), np.insert(off[:-1], 0, 0.0))
    return np.asarray((off > limit) & (off > OF_NEIGHBOUR * beside))
