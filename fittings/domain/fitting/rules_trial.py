"""What other rules would have said of people fitted before: how many targets move, by how much, and into which band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

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


def compare_needs(old: ArrayLike, new: ArrayLike, edges: Sequence[float]) -> Trial:
    """Set targets under new rules against those that were made.

    Parameters
    ----------
    old, new : array_like, shape (n, 2)
        Low and high of each target, points; the same people in the same order.
    edges : sequence of float
        Where one band ends and the next begins, ascending, points; a centre on an edge lies in the upper band.

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
    shift = after.mean(axis=1) - before.mean(axis=1)
    wider = np.ptp(after, axis=1) - np.ptp(before, axis=1)
    whole = np.copysign(np.floor(np.abs(shift) + 0.5 + 1e-9), shift).astype(np.int64)
    place = [
        np.searchsorted(np.asarray(edges, dtype=np.float64), part.mean(axis=1), side="right")
        for part in (before, after)
    ]
    pairs, people = np.unique(np.stack(place, axis=1), axis=0, return_counts=True)
    moves = tuple(Move(int(a), int(b), int(k)) for (a, b), k in zip(pairs, people, strict=True))
    values, counts = np.unique(whole, return_counts=True)
    return Trial(
        n=len(before),
        moved=int((np.abs(shift) >= MOVED_BY).sum()),
        widened=int((wider >= MOVED_BY).sum()),
        narrowed=int((wider <= -MOVED_BY).sum()),
        mean_shift=float(shift.mean()) if shift.size else None,
        largest_rise=float(shift.max()) if shift.size else None,
        largest_fall=float(shift.min()) if shift.size else None,
        shifts=tuple(zip(values.tolist(), counts.tolist(), strict=True)),
        moves=moves,
        another_band=sum(move.people for move in moves if move.before != move.after),
    )


def _checked(old: ArrayLike, new: ArrayLike, edges: Sequence[float]) -> tuple[Floats, Floats]:
    before, after = (np.asarray(part, dtype=np.float64).reshape(-1, 2) for part in (old, new))
    if before.shape != after.shape:
        raise ValueError(f"old and new must be of the same people, got {before.shape} and {after.shape}")
    if not np.all(np.isfinite(before)) or not np.all(np.isfinite(after)):
        raise ValueError("targets must be finite for everyone")
    if any(a >= b for a, b in pairwise(edges)):
        raise ValueError(f"edges must ascend, got {list(edges)}")
    return before, after
