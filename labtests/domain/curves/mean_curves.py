"""Curves of several repeats as one, and the difference of two, on points that they share. Nothing is extrapolated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray

POINTS = 201


@dataclass(frozen=True, slots=True, eq=False)
class MeanCurve:
    """The mean of `n` curves at rising positions; `position` and `load` in the units of what was given."""

    position: FloatArray
    load: FloatArray
    n: int


def mean_curve(curves: Sequence[tuple[FloatArray, FloatArray]]) -> MeanCurve | None:
    """Average curves over the positions that all of them reach.

    Parameters
    ----------
    curves : sequence of (position, load), each array of shape (n,), n ≥ 1
        In any order of positions; loads at the same position are averaged.

    Returns
    -------
    MeanCurve or None
        At 201 evenly spaced positions, interpolated linearly. None without curves or where they share no stretch.

    Examples
    --------
    >>> import numpy as np
    >>> found = mean_curve([(np.array([0.0, 2.0]), np.array([0.0, 4.0])), (np.array([0.0, 1.0]), np.array([0.0, 4.0]))])
    >>> found.position[-1].item(), found.load[-1].item(), found.n
    (1.0, 3.0, 2)
    """
    ordered = [_ordered(position, load) for position, load in curves]
    grid = _shared([position for position, _ in ordered])
    if grid is None:
        return None
    loads = np.mean([np.interp(grid, position, load) for position, load in ordered], axis=0)
    return MeanCurve(grid, loads, len(ordered))


def difference_curve(first: MeanCurve, second: MeanCurve) -> MeanCurve | None:
    """The load of the second less that of the first over the positions that both reach; None where there are none.

    `n` is the smaller number of repeats.

    Examples
    --------
    >>> import numpy as np
    >>> low = MeanCurve(np.array([0.0, 10.0]), np.array([0.0, 2.0]), 3)
    >>> high = MeanCurve(np.array([0.0, 20.0]), np.array([0.0, 6.0]), 1)
    >>> difference_curve(low, high).load[-1].item()
    1.0
    """
    grid = _shared([first.position, second.position])
    if grid is None:
        return None
    load = np.interp(grid, second.position, second.load) - np.interp(grid, first.position, first.load)
    return MeanCurve(grid, load, min(first.n, second.n))


def _ordered(position: FloatArray, load: FloatArray) -> tuple[FloatArray, FloatArray]:
    unique, inverse, counts = np.unique(position, return_inverse=True, return_counts=True)
    return unique, np.bincount(inverse, weights=load) / counts


def _shared(positions: Sequence[FloatArray]) -> FloatArray | None:
    """Evenly spaced positions over the stretch that all curves, each in order, have in common."""
    if not positions:
        return None
    low, high = max(float(one[0]) for one in positions), min(float(one[-1]) for one in positions)
    return np.linspace(low, high, POINTS) if low < high else None
