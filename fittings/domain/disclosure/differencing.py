"""How many people tell two selections of people apart."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import ArrayLike, NDArray


def smallest_difference(counts: ArrayLike, start: int, stop: int) -> int | None:
    """The fewest people, though not none, by which a selection differs from a wider one or from its last state.

    Parameters
    ----------
    counts : array_like of int, shape (2, …, 2, q)
        People by each condition of the selection (place 1: met, place 0: not met), and by period in order of time. The
        periods are all that are published.
    start, stop : int
        The selection meets all conditions and has the periods from `start` up to `stop`, which is left out.

    Returns
    -------
    int or None
        None where every wider selection is of the same people.

    Raises
    ------
    ValueError
        When the shape is not as described or the periods are not among those given.

    Notes
    -----
    Wider selections drop any of the conditions and take in any periods before and after. A selection that goes up to
    the last period is also set against itself without that period, as it was published before.

    Examples
    --------
    >>> smallest_difference([[3, 1, 4], [20, 15, 15]], 0, 3)
    8
    >>> smallest_difference([[0, 0, 0], [20, 15, 12]], 0, 3)
    12
    """
    people = np.asarray(counts, dtype=np.int64)
    if people.ndim < 1 or any(length != 2 for length in people.shape[:-1]):
        raise ValueError(f"counts must have two places for each condition, got the shape {people.shape}")
    if not 0 <= start < stop <= people.shape[-1]:
        raise ValueError(f"start and stop must be periods in order up to {people.shape[-1]}, got {start} and {stop}")
    own = _by_period(people, (True,) * (people.ndim - 1))
    base = own[start:stop].sum()
    apart = [own[stop - 1 : stop]] if stop == people.shape[-1] and stop - start > 1 else []
    for needed in product((True, False), repeat=people.ndim - 1):
        until = np.concatenate([[0], _by_period(people, needed).cumsum()])
        apart.append((until[stop:, None] - until[None, : start + 1]).ravel() - base)
    differences = np.concatenate(apart)
    return int(differences[differences > 0].min()) if (differences > 0).any() else None


def whole_batches(periods: Sequence[int], least: int) -> int | None:
    """Until when people can be shown who come in batches, so that no batch is of a few.

    Parameters
    ----------
    periods : sequence of int
        The period in which each person came, in any order.
    least : int
        How many people make a batch, 1 or more; periods with fewer wait for the next.

    Returns
    -------
    int or None
        The period after the last whole batch; None without one.

    Raises
    ------
    ValueError
        When `least` is below 1.

    Examples
    --------
    >>> whole_batches([1, 1, 1, 2, 3, 3, 5], least=3)
    4
    """
    if least < 1:
        raise ValueError(f"least must be >= 1, got {least}")
    after, waiting = None, 0
    for period, people in sorted(Counter(periods).items()):
        waiting += people
        if waiting >= least:
            after, waiting = period + 1, 0
    return after


def _by_period(people: NDArray[np.int64], needed: tuple[bool, ...]) -> NDArray[np.int64]:
    """People by period who meet the conditions that are needed, whatever the others."""
    met = people[tuple(slice(1, 2) if condition else slice(None) for condition in needed)]
    return np.asarray(met.sum(axis=tuple(range(len(needed)))), dtype=np.int64)
