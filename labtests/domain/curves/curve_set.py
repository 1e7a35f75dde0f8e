"""Several curves one after the other in the same arrays, so that numpy computes with all of them at once."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Self

import numpy as np
import numpy.typing as npt

from core.domain.units import FloatArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class CurveSet:
    """Curves of any length, m of them with n points in all; none is empty.

    `position` and `load` have shape (n,). `starts`, shape (m + 1,), is where each curve begins, and where the last one
    ends.
    """

    position: FloatArray
    load: FloatArray
    starts: IntArray

    @classmethod
    def of(cls, curves: Sequence[tuple[FloatArray, FloatArray]]) -> Self:
        """Join pairs of position and load, of which there must be one at least.

        Examples
        --------
        >>> CurveSet.of([(np.arange(3.0), np.zeros(3)), (np.arange(2.0), np.ones(2))]).starts.tolist()
        [0, 3, 5]
        """
        positions, loads = zip(*curves, strict=True)
        return cls(np.concatenate(positions), np.concatenate(loads), starts_of([len(load) for load in loads]))

    def __len__(self) -> int:
        return len(self.starts) - 1

    @property
    def sizes(self) -> IntArray:
        return np.diff(self.starts)

    def on_points(self, values: FloatArray) -> FloatArray:
        """One value a curve, shape (m,), on each of its points, shape (n,)."""
        return np.repeat(values, self.sizes)

    def count(self, marked: npt.NDArray[np.bool_]) -> IntArray:
        """How many points of each curve are marked."""
        return np.add.reduceat(marked, self.starts[:-1], dtype=np.int32).astype(np.int64)

    def sums(self, values: FloatArray) -> FloatArray:
        """Sum of a value a point for each curve."""
        return np.asarray(np.add.reduceat(values, self.starts[:-1]))

    def extremes(self, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The largest and the smallest of each curve, of a value a point."""
        starts = self.starts[:-1]
        return np.asarray(np.maximum.reduceat(values, starts)), np.asarray(np.minimum.reduceat(values, starts))

    def ends(self, values: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The first and the last of each curve, of a value a point."""
        return values[self.starts[:-1]], values[self.starts[1:] - 1]

    def chosen(self, which: IntArray) -> Self:
        """Some of the curves, by their places."""
        return self.stretches(which, np.zeros_like(which), self.sizes[which])

    def stretches(self, which: IntArray, first: IntArray, after: IntArray) -> Self:
        """From each chosen curve the points from `first` to before `after`, counted from its own beginning.

        Examples
        --------
        >>> joined = CurveSet.of([(np.arange(3.0), np.zeros(3)), (np.arange(5.0), np.ones(5))])
        >>> joined.stretches(np.array([1]), np.array([2]), np.array([4])).position.tolist()
        [2.0, 3.0]
        """
        sizes = after - first
        starts = starts_of(sizes)
        points = np.arange(starts[-1]) + np.repeat(self.starts[which] + first - starts[:-1], sizes)
        return type(self)(self.position[points], self.load[points], starts)


def starts_of(sizes: Any) -> IntArray:
    """Where groups of these sizes begin when they follow each other, and where the last ends."""
    return np.concatenate(([0], np.cumsum(sizes)))


def medians(values: FloatArray, starts: IntArray) -> FloatArray:
    """The median of each group of values, none of which is empty.

    Examples
    --------
    >>> medians(np.array([3.0, 1.0, 2.0, 5.0, 4.0]), np.array([0, 3, 5])).tolist()
    [2.0, 4.5]
    """
    ordered = values.copy()
    for start, end in itertools.pairwise(starts.tolist()):
        ordered[start:end].sort()
    first, sizes = starts[:-1], np.diff(starts)
    return np.asarray(0.5 * (ordered[first + (sizes - 1) // 2] + ordered[first + sizes // 2]))
