"""People who come late to a group, because they chose another shoe meanwhile: their earlier time counts elsewhere."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fittings.domain.outcomes.survival import Floats, LifeTable


def late_life_table(entry: ArrayLike, leave: ArrayLike, people: ArrayLike, events: ArrayLike) -> LifeTable:
    """Life table of those who are watched from one time to another, as a database adds them up.

    Parameters
    ----------
    entry : array_like, shape (n,)
        From when on, 0 or more and before `leave`; any unit.
    leave : array_like, shape (n,)
        Until when, in the same unit.
    people : array_like, shape (n,)
        How many from that entry to that end, 0 or more.
    events : array_like, shape (n,)
        How many of them left by an event.

    Returns
    -------
    LifeTable
        One position for each distinct time at which somebody left, or came after the beginning.

    Raises
    ------
    ValueError
        When lengths differ, or somebody comes before 0 or not before they leave.

    Notes
    -----
    Somebody who changes from one group to another is censored in the first and comes late to the second, so that no
    time counts twice, and none before the change counts for the second. They are at risk only after they came.

    References
    ----------
    .. [1] Andersen P.K. et al., Statistical Models Based on Counting Processes (1993), III.3: left truncation.

    Examples
    --------
    >>> late_life_table([0, 0, 5], [3, 9, 9], [1, 1, 1], [1, 0, 1]).at_risk().tolist()
    [2.0, 1.0, 2.0, 0.0]
    """
    came, left, count, died = (np.asarray(part, dtype=np.float64) for part in (entry, leave, people, events))
    _check(came, left, count, died)
    is_late = came > 0
    moments = np.unique(np.concatenate([left, came[is_late]]))
    return LifeTable(
        moments,
        _added_up(moments, left, count),
        _added_up(moments, left, died),
        _from_then_on(_added_up(moments, came[is_late], count[is_late])) if is_late.any() else None,
    )


def _check(came: Floats, left: Floats, count: Floats, died: Floats) -> None:
    if came.ndim != 1 or len({part.shape for part in (came, left, count, died)}) > 1:
        raise ValueError("entry, leave, people and events must be of one length")
    if not np.all((came >= 0) & (came < left) & np.isfinite(left)):
        raise ValueError("entry must be >= 0 and before leave for everyone")


def _added_up(moments: Floats, time: Floats, count: Floats) -> Floats:
    at = np.searchsorted(moments, time)
    return np.bincount(at, weights=count, minlength=moments.size).astype(np.float64)


def _from_then_on(counts: Floats) -> Floats:
    return np.asarray(counts[::-1].cumsum()[::-1], dtype=np.float64)
