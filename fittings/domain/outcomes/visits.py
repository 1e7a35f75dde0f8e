"""The share free of recurrence at follow-ups of fixed weeks, with limits that have a width everywhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fittings.domain.outcomes.beta_product import beta_product_limits
from fittings.domain.outcomes.onset import Onsets, free_at, onsets, turnbull

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class VisitCurve:
    """Share still free at each visit, and limits; people still watched then, and recurrences reported by then."""

    n: float
    visits: tuple[float, ...]
    share: Floats
    low: Floats
    high: Floats
    at_risk: Floats
    events: Floats
    confidence: float
    method: str = "Turnbull estimate; limits by beta products, earliest and latest onset"


def at_visits(
    left: ArrayLike, right: ArrayLike, people: ArrayLike, visits: Sequence[float], *, entered: ArrayLike = 0.0
) -> Onsets:
    """Put what is known of people's onsets on the visits at which they were asked.

    Parameters
    ----------
    left : array_like, shape (n,)
        Time up to which each is known to be free of it, in the unit of the visits; not a number where only the time
        of the report is known: they are taken to be free of it at the visit before.
    right : array_like, shape (n,)
        Time of the report, infinite where there is none.
    people : array_like, shape (n,)
        How many people each row is, or a weight.
    visits : sequence of float
        Times of the visits, ascending, above 0.
    entered : array_like, shape (n,)
        Time from which each is watched.

    Returns
    -------
    Onsets
        In numbers of visits: 0 the start, 1 the first visit.

    Raises
    ------
    ValueError
        As `onsets` does.

    Notes
    -----
    An answer belongs to the visit nearest to it (late ones to the visit they are late for); of two answers nearest to
    one visit, the earlier belongs to the visit before. A report never comes before the first visit.

    Examples
    --------
    >>> at_visits([2.5, 0.0], [6.5, np.inf], [1, 1], (2, 6, 12)).left.tolist()
    [0.0, 1.0]
    """
    known, reported = np.asarray(left, dtype=np.float64), np.asarray(right, dtype=np.float64)
    times = np.array([0.0, *visits])
    between = (times[1:] + times[:-1]) / 2.0
    seen = np.isfinite(reported)
    last = np.maximum(np.searchsorted(between, np.where(seen, reported, 0.0), side="right"), 1)
    free = np.where(np.isnan(known), last - 1, np.searchsorted(between, np.nan_to_num(known), side="right"))
    free = np.where(seen, np.minimum(free, last - 1), free)
    begin = np.minimum(np.searchsorted(between, np.broadcast_to(entered, free.shape), side="right"), free)
    return onsets(free, np.where(seen, last.astype(np.float64), np.inf), people, begin)


def visit_curve(seen: Onsets, visits: Sequence[float], confidence: float = 0.95) -> VisitCurve:
    """Estimate the share still free at each visit.

    Parameters
    ----------
    seen : Onsets
        In numbers of visits, see `at_visits`; weights add up to the people they stand for in precision.
    visits : sequence of float
        Times of the visits.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    VisitCurve
        Limits are 0 and 1 where nobody is watched.

    Raises
    ------
    ValueError
        When the confidence is out of range.

    Notes
    -----
    Somebody who missed visits may have had the onset at any of them. Beta products are worked out with every onset at
    the first visit possible and with every one where it was reported; the limits are the outer ones of both.

    References
    ----------
    .. [1] Turnbull B.W., J R Stat Soc B 38:290 (1976).
    .. [2] Fay M.P., Brittain E.H., Proschan M.A., Biostatistics 14:723 (2013).

    Examples
    --------
    >>> curve = visit_curve(at_visits([6.0] * 6, [np.inf] * 6, [1] * 6, (2, 6)), (2, 6))
    >>> curve.share.tolist(), curve.low.round(4).tolist()
    ([1.0, 1.0], [0.5407, 0.5407])
    """
    places = np.arange(1, len(visits) + 1)
    share = np.clip(free_at(turnbull(seen), places), 0.0, 1.0)
    earliest = np.where(np.isfinite(seen.right), seen.left + 1.0, np.inf)
    early_low, early_high, _ = _limits(seen, earliest, places.size, confidence)
    late_low, late_high, at_risk = _limits(seen, seen.right, places.size, confidence)
    events = np.array([seen.people[seen.right <= place].sum() for place in places], dtype=np.float64)
    return VisitCurve(
        n=seen.n,
        visits=tuple(visits),
        share=share,
        low=np.minimum.reduce([early_low, late_low, share]),
        high=np.maximum.reduce([early_high, late_high, share]),
        at_risk=at_risk,
        events=events,
        confidence=confidence,
    )


def _limits(seen: Onsets, onset: Floats, visits: int, confidence: float) -> tuple[Floats, Floats, Floats]:
    """Limits at each visit with onsets at the visits given, and the people who are known to be free then or later."""
    has = np.isfinite(onset)
    place = np.where(has, onset, seen.left).astype(np.int64)
    came, went = (_counted(place, seen.people * part, visits) for part in (has, ~has))
    to_come = _counted(seen.entered.astype(np.int64), seen.people, visits)
    events, at_risk = came[1:], (came + went - to_come)[::-1].cumsum()[::-1][1:]
    after = at_risk - events
    low, high = beta_product_limits(np.maximum(at_risk, 1.0), events, after, confidence)
    return low, high, after


def _counted(place: NDArray[np.int64], people: Floats, visits: int) -> Floats:
    return np.bincount(place, weights=people, minlength=visits + 1).astype(np.float64)
