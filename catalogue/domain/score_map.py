"""Where each shoe is on the score map, which plots two scores against each other: marks of a size each, never touching.

A mark that would lie on another moves aside to the nearest free place; the drawing ties it to where it belongs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from catalogue.domain.axes import Axis
from catalogue.domain.sieve import Ints

Floats = NDArray[np.float64]

GAP_PX = 1.5
# Up to this many shoes, the radii of the smallest and the largest mark, px.
RADII = ((60, 2.5, 7.0), (200, 2.5, 6.0), (math.inf, 2.0, 5.0))
# Scores are stored unrounded: what fits a weighted sum worse than this was not made by one.
FIT_POINTS = 1e-6


@dataclass(frozen=True, slots=True)
class Dot:
    """One shoe: its two scores with their expanded uncertainties (None where not known), and what its size shows."""

    key: str
    x: float
    y: float
    size: float
    x_u: float | None = None
    y_u: float | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a shoe is drawn, and where it belongs, px from the left and from the bottom.

    `across` and `up` are the ends of its whiskers around the place where it belongs, None where not known.
    """

    key: str
    x: float
    y: float
    home_x: float
    home_y: float
    radius: float
    across: tuple[float, float] | None
    up: tuple[float, float] | None

    @property
    def is_moved(self) -> bool:
        return (self.x, self.y) != (self.home_x, self.home_y)


@dataclass(frozen=True, slots=True)
class ScoreMap:
    """A drawing: both axes, and one spot per shoe in the order given."""

    x: Axis
    y: Axis
    spots: tuple[Spot, ...]


def radii(sizes: Sequence[float], count: int | None = None) -> list[float]:
    """Return a radius for each size: the area of a mark grows evenly from the smallest size to the largest.

    `count` is how many marks the drawing has, where that is more than the sizes given.

    Examples
    --------
    >>> [round(radius, 2) for radius in radii([10.0, 20.0, 30.0])]
    [2.5, 5.26, 7.0]
    """
    _, least, most = next(step for step in RADII if (count or len(sizes)) <= step[0])
    low, high = min(sizes, default=0.0), max(sizes, default=0.0)
    if low == high:
        return [(least + most) / 2] * len(sizes)
    return [math.sqrt(least**2 + (size - low) / (high - low) * (most**2 - least**2)) for size in sizes]


def _rings(step: float, farthest: float) -> Iterator[Floats]:
    """Yield places around one, ring by ring outwards, each shape (k, 2)."""
    yield np.zeros((1, 2))
    ring = 1
    while ring * step <= farthest:
        angles = np.arange(6 * ring) * (2 * math.pi / (6 * ring))
        yield ring * step * np.column_stack([np.cos(angles), np.sin(angles)])
        ring += 1


def _free_place(home: Floats, radius: float, placed: Floats, extent: tuple[float, float], apart: float) -> Floats:
    """Return the nearest place around a home that no placed mark (x, y, radius) touches, or the home if none is.

    Middles stay at least `apart` px from each other.
    """
    room = np.maximum(placed[:, 2] + radius + GAP_PX, apart)
    for ring in _rings(max(1.5, radius * 0.6), math.hypot(*extent)):
        places = home + ring
        inside = ((places >= 0) & (places <= extent)).all(axis=1) if len(ring) > 1 else np.ones(1, dtype=bool)
        gaps = np.hypot(places[:, None, 0] - placed[None, :, 0], places[:, None, 1] - placed[None, :, 1])
        free = np.flatnonzero(inside & (gaps >= room).all(axis=1))
        if len(free):
            found: Floats = places[free[0]]
            return found
    return home


def layout(dots: Sequence[Dot], x: Axis, y: Axis, count: int | None = None, apart: float = 0.0) -> ScoreMap:
    """Place shoes by two scores.

    Parameters
    ----------
    dots : sequence of Dot
        The shoes.
    x, y : Axis
        Where the two scores are drawn.
    count : int or None
        How many shoes the drawing shows, where that is more than the dots.
    apart : float
        The least distance of two middles, px, ≥ 0, so that each can be pressed without the other.

    Returns
    -------
    Scatter
        Marks lie at least 1.5 px apart as long as the drawing has room. Large marks are placed first, so the small ones
        move; ties by key, so that the drawing does not depend on the order given.

    Raises
    ------
    ValueError
        A score or size that is no number, a negative uncertainty.

    Notes
    -----
    Greedy: the first free place on rings around the true one. The way of drawing is our own.

    Examples
    --------
    >>> drawn = layout([Dot("a", 50, 50, 9), Dot("b", 50, 50, 4)], Axis(0, 100, 400), Axis(0, 100, 400))
    >>> [spot.is_moved for spot in drawn.spots]
    [False, True]
    """
    for dot in dots:
        _check(dot)
    sizes = radii([dot.size for dot in dots], count)
    by_size = sorted(range(len(dots)), key=lambda index: (-sizes[index], dots[index].key))
    placed = np.empty((len(dots), 3))
    spots: dict[int, Spot] = {}
    for done, index in enumerate(by_size):
        dot, radius = dots[index], sizes[index]
        home = np.array([x.along(dot.x), y.along(dot.y)])
        place = _free_place(home, radius, placed[:done], (x.length, y.length), apart)
        placed[done] = (*place, radius)
        spots[index] = Spot(
            key=dot.key,
            x=float(place[0]),
            y=float(place[1]),
            home_x=float(home[0]),
            home_y=float(home[1]),
            radius=radius,
            across=x.whisker(dot.x, dot.x_u),
            up=y.whisker(dot.y, dot.y_u),
        )
    return ScoreMap(x, y, tuple(spots[index] for index in range(len(dots))))


def _check(dot: Dot) -> None:
    for name in ("x", "y", "size"):
        if not math.isfinite(getattr(dot, name)):
            raise ValueError(f"{name} of {dot.key} must be finite, got {getattr(dot, name)}")
    for name in ("x_u", "y_u"):
        u = getattr(dot, name)
        if u is not None and not (math.isfinite(u) and u >= 0):
            raise ValueError(f"{name} of {dot.key} must be >= 0, got {u}")


@dataclass(frozen=True, slots=True)
class Weights:
    """A third score as a weighted sum of two: third = of_x · x + of_y · y."""

    of_x: float
    of_y: float


def weights_of(x: Floats, y: Floats, total: Floats) -> Weights | None:
    """Find the weights by which a score is made of two others, or None where it is not, or they can't be worked out.

    Parameters
    ----------
    x, y, total : ndarray, shape (n,)
        Scores, points, unrounded.

    Notes
    -----
    Least squares without a constant; the answer counts only if it is exact (largest residual ≤ 1e-6 points), so shoes
    scored by different weights have none in common.

    Examples
    --------
    >>> found = weights_of(np.array([40.0, 60.0, 50.0]), np.array([50.0, 30.0, 70.0]), np.array([44.6, 46.2, 59.2]))
    >>> (round(found.of_x, 2), round(found.of_y, 2))
    (0.54, 0.46)
    """
    both = np.column_stack([x, y])
    if len(both) < 2 or np.linalg.matrix_rank(both) < 2:
        return None
    (of_x, of_y), *_ = np.linalg.lstsq(both, total, rcond=None)
    if np.abs(both @ (of_x, of_y) - total).max() > FIT_POINTS:
        return None
    return Weights(float(of_x), float(of_y))


def contour(weights: Weights, value: float, x: Axis, y: Axis) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Return the ends, px, of the line on which a weighted sum has a value, or None where it misses the drawing.

    Examples
    --------
    >>> contour(Weights(0.5, 0.5), 50.0, Axis(0, 100, 10), Axis(0, 100, 10))
    ((0.0, 10.0), (10.0, 0.0))
    """
    ends = []
    for at in (x.low, x.high):
        if weights.of_y:
            other = (value - weights.of_x * at) / weights.of_y
            if y.low <= other <= y.high:
                ends.append((x.along(at), y.along(other)))
    for at in (y.low, y.high):
        if weights.of_x:
            other = (value - weights.of_y * at) / weights.of_x
            if x.low < other < x.high:
                ends.append((x.along(other), y.along(at)))
    if len(ends) < 2:
        return None
    first, last = min(ends), max(ends)
    return (first, last) if first != last else None


def cells(x: Floats, y: Floats, axes: tuple[Axis, Axis], step: float) -> tuple[Ints, tuple[int, int]]:
    """Say in which square of `step` px each shoe is, and how many squares there are across and up.

    Squares are numbered up, column by column; count them with `numpy.bincount` and give it the shape.

    Examples
    --------
    >>> axis = Axis(0, 100, 20)
    >>> squares, shape = cells(np.array([1.0, 99.0]), np.array([1.0, 1.0]), (axis, axis), 10.0)
    >>> squares.tolist(), shape
    ([0, 2], (2, 2))
    """
    columns, rows = (math.ceil(axis.length / step) for axis in axes)
    across, up = (
        np.clip(((values - axis.low) / (axis.high - axis.low) * axis.length / step).astype(np.intp), 0, most - 1)
        for values, axis, most in ((x, axes[0], columns), (y, axes[1], rows))
    )
    return across * rows + up, (columns, rows)
