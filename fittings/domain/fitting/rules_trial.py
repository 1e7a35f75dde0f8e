"""What other rules would have said of people fitted before: how many targets move, by how much, and into which band."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Pair = tuple[float, float]

MOVED_BY = 0.05
"""Less than this, in points, is not seen in a score shown to one decimal."""


@dataclass(frozen=True, slots=True)
class Move:
    """How many people's target would lie in another band: from one place among the bands to another."""

    before: int
    after: int
    people: int


@dataclass(frozen=True, slots=True)
class Trial:
    """Centres and widths of targets under two versions of the rules, the new less the old, in points."""

    n: int
    moved: int
    widened: int
    narrowed: int
    mean_shift: float | None
    largest_rise: float | None
    largest_fall: float | None
    shifts: tuple[tuple[int, int], ...]
    moves: tuple[Move, ...]
    another_band: int


Counter = Callable[[NDArray[np.bool_]], int]
"""Counts the people of an array of truth values, one a person."""


def compare_needs(
    old: ArrayLike, new: ArrayLike, edges: Sequence[float], *, count: Counter | None = None, extreme: int = 1
) -> Trial:
    """Set targets under new rules against those that were made.

    Parameters
    ----------
    old, new : array_like, shape (n, 2)
        Low and high of each target, points; the same people in the same order.
    edges : sequence of float
        Where one band ends and the next begins, ascending, points; a centre on an edge lies in the upper band.
    count : callable, optional
        Counts people, for example with noise; exactly where left out. The mean follows from these counts.
    extreme : int
        Which of the largest shifts is given, 1 for the largest; 0 where there are fewer in that direction.

    Returns
    -------
    Trial
        `shifts` counts people by the shift of the centre in whole points (halves away from 0); `moves` by band before
        and after, bands counted from 0, those who stay included.

    Raises
    ------
    ValueError
        When shapes differ, a value is not finite, or edges do not ascend.

    Examples
    --------
    >>> trial = compare_needs([[51, 63], [40, 52]], [[56, 68], [40, 52]], [50, 60])
    >>> trial.moved, trial.shifts, trial.another_band
    (1, ((0, 1), (5, 1)), 1)
    """
    before, after = _checked(old, new, edges)
    number: Counter = count or (lambda people: int(people.sum()))
    change = changes_of(before, after, edges)
    shifts = tuple((value, number(change.whole == value)) for value in np.unique(change.whole).tolist())
    moves = tuple(
        Move(a, b, number((change.band_before == a) & (change.band_after == b)))
        for a, b in np.unique(np.stack([change.band_before, change.band_after], axis=1), axis=0).tolist()
    )
    return Trial(
        n=number(np.ones(len(before), dtype=np.bool_)),
        moved=number(np.abs(change.shift) >= MOVED_BY),
        widened=number(change.wider >= MOVED_BY),
        narrowed=number(change.wider <= -MOVED_BY),
        mean_shift=_mean(change.shift, shifts, exactly=count is None),
        largest_rise=_extreme(change.shift, extreme),
        largest_fall=_extreme(-change.shift, extreme, sign=-1.0),
        shifts=shifts,
        moves=moves,
        another_band=number(change.band_before != change.band_after),
    )


@dataclass(frozen=True, slots=True)
class Changes:
    """A target under two versions of the rules, a place a person: shift of the centre, in points and in whole points
    (halves away from 0), how much wider it is, and the band of the centre before and after."""

    shift: Floats
    whole: Integers
    wider: Floats
    band_before: Integers
    band_after: Integers


def changes_of(before: Floats, after: Floats, edges: Sequence[float]) -> Changes:
    """What changes for each person.

    Parameters
    ----------
    before, after : ndarray of float, shape (n, 2)
        Low and high of each target, points.
    edges : sequence of float
        As in `compare_needs`.

    Returns
    -------
    Changes
        Arrays of shape (n,).

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> changes_of(np.array([[51.0, 63.0]]), np.array([[56.5, 68.5]]), [50, 60]).whole.tolist()
    [6]
    """
    shift = after.mean(axis=1) - before.mean(axis=1)
    whole = np.copysign(np.floor(np.abs(shift) + 0.5 + 1e-9), shift).astype(np.int64)
    limits = np.asarray(edges, dtype=np.float64)
    place = [np.searchsorted(limits, part.mean(axis=1), side="right").astype(np.int64) for part in (before, after)]
    return Changes(shift, whole, np.ptp(after, axis=1) - np.ptp(before, axis=1), *place)


def coarse_steps(steps: Sequence[tuple[float, float]], known: Collection[float], to: float) -> tuple[Pair, ...]:
    """Thresholds to the nearest multiple of a step, those known already as they are.

    Parameters
    ----------
    steps : sequence of (threshold, points)
        Any order.
    known : collection of float
        Thresholds that are not changed.
    to : float
        The step, above 0, in the unit of the thresholds.

    Returns
    -------
    tuple of (threshold, points)
        The highest first; of several that fall together the one that was highest.

    Raises
    ------
    ValueError
        When the step is not above 0.

    Examples
    --------
    >>> coarse_steps([(83.85, 4.0), (97.0, 8.0)], known=(97.0,), to=5.0)
    ((97.0, 8.0), (85.0, 4.0))
    """
    if to <= 0:
        raise ValueError(f"to must be above 0, got {to}")
    coarse: dict[float, float] = {}
    for threshold, points in sorted(steps, reverse=True):
        at = threshold if threshold in known else to * float(np.floor(threshold / to + 0.5))
        coarse.setdefault(at, points)
    return tuple(sorted(coarse.items(), reverse=True))


def _mean(shift: Floats, shifts: Sequence[tuple[int, int]], *, exactly: bool) -> float | None:
    if exactly:
        return float(shift.mean()) if shift.size else None
    people = sum(n for _, n in shifts)
    return sum(value * n for value, n in shifts) / people if people else None


def _extreme(shift: Floats, place: int, sign: float = 1.0) -> float | None:
    if not shift.size:
        return None
    if place == 1:
        return sign * float(shift.max())
    largest = float(np.sort(shift)[-place]) if shift.size >= place else 0.0
    return sign * max(0.0, largest)


def _checked(old: ArrayLike, new: ArrayLike, edges: Sequence[float]) -> tuple[Floats, Floats]:
    before, after = (np.asarray(part, dtype=np.float64).reshape(-1, 2) for part in (old, new))
    if before.shape != after.shape:
        raise ValueError(f"old and new must be of the same people, got {before.shape} and {after.shape}")
    if not np.all(np.isfinite(before)) or not np.all(np.isfinite(after)):
        raise ValueError("targets must be finite for everyone")
    if any(a >= b for a, b in pairwise(edges)):
        raise ValueError(f"edges must ascend, got {list(edges)}")
    return before, after
