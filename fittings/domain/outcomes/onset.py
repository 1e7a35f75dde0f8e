"""Time without recurrence where a recurrence is known only to have come between two follow-ups."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc, xlogy

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

ITERATIONS_MAX = 20_000
SETTLED = 1e-12


@dataclass(frozen=True, slots=True)
class Onsets:
    """People counted by what is known of their onset: after `left`, and by `right`; infinity where none was seen.

    Before `entered` nobody looked: whoever had an onset by then would not be here.
    """

    left: Floats
    right: Floats
    people: Floats
    entered: Floats

    @property
    def n(self) -> float:
        return float(self.people.sum())


@dataclass(frozen=True, slots=True)
class OnsetCurve:
    """Turnbull's estimate: the share of people with their onset after `start` and by `end`; none in between.

    `end` of the last interval is infinite where some had no onset while watched.
    """

    n: float
    start: Floats
    end: Floats
    mass: Floats
    settled: bool
    method: str = "nonparametric maximum likelihood for interval-censored data (Turnbull)"


@dataclass(frozen=True, slots=True)
class OnsetTest:
    """Log-rank test of k groups: each group's sum of scores, above 0 for late onsets; chi-squared, degrees, p.

    `chi_squared` and `p` are None where there is nothing to compare.
    """

    scores: tuple[float, ...]
    chi_squared: float | None
    degrees: int
    p: float | None
    method: str = "log-rank scores of interval-censored data (Finkelstein), permutation variance"


def onsets(
    left: ArrayLike, right: ArrayLike, people: ArrayLike | None = None, entered: ArrayLike | None = None
) -> Onsets:
    """Count people by their interval.

    Parameters
    ----------
    left : array_like, shape (n,)
        Time up to which each person is known to be free of it, any unit, 0 or more.
    right : array_like, shape (n,)
        Time by which it had come, infinite where it was not seen; equal to `left` where the moment is known.
    people : array_like, shape (n,), optional
        How many people each row is, 0 or more, a weight where it is no whole number; one each where left out.
    entered : array_like, shape (n,), optional
        Time from which each was watched, 0 to `left`; 0 where left out.

    Returns
    -------
    Onsets
        One row for each distinct interval.

    Raises
    ------
    ValueError
        When lengths differ, a value is out of range or a right end comes before its left end.

    Examples
    --------
    >>> onsets([2, 0, 2], [6, np.inf, 6]).people.tolist()
    [1.0, 2.0]
    """
    low, high = np.asarray(left, dtype=np.float64), np.asarray(right, dtype=np.float64)
    count = np.ones_like(low) if people is None else np.asarray(people, dtype=np.float64)
    begin = np.zeros_like(low) if entered is None else np.asarray(entered, dtype=np.float64)
    if low.ndim != 1 or len({part.shape for part in (low, high, count, begin)}) > 1:
        raise ValueError(f"left, right, people and entered must be of one length, got {low.shape}, {high.shape}")
    if not np.all(np.isfinite(low)) or np.any(low < 0):
        raise ValueError("left must be finite and >= 0 for everyone")
    if not np.all(high >= low):
        raise ValueError("right must be >= left for everyone")
    if not np.all((begin >= 0) & (begin <= low)):
        raise ValueError("entered must be from 0 to left for everyone")
    if not np.all(np.isfinite(count)) or np.any(count < 0):
        raise ValueError("people must be finite and >= 0")
    counted = count > 0
    rows, place = np.unique(np.column_stack([low, high, begin])[counted], axis=0, return_inverse=True)
    sums = np.bincount(place.reshape(-1), weights=count[counted], minlength=len(rows)).astype(np.float64)
    return Onsets(rows[:, 0], rows[:, 1], sums, rows[:, 2])


def turnbull(seen: Onsets) -> OnsetCurve:
    """Estimate when onsets came, from intervals.

    Parameters
    ----------
    seen : Onsets
        See `onsets`.

    Returns
    -------
    OnsetCurve
        Empty for nobody. `settled` is False where the iteration did not come to rest.

    Raises
    ------
    Nothing.

    Notes
    -----
    Only intervals from a left end to the next right end can have a mass; where inside them it belongs is not known.
    Where every moment is known this is the estimate of Kaplan and Meier. Who came late represents those as well who
    would have come had their onset not been earlier.

    References
    ----------
    .. [1] Turnbull B.W., J R Stat Soc B 38:290 (1976).

    Examples
    --------
    >>> turnbull(onsets([0, 2, 6], [2, 6, np.inf])).mass.round(6).tolist()
    [0.333333, 0.333333, 0.333333]
    """
    start, end, first, last = _supports(seen)
    covers = (first[:, None] <= np.arange(start.size)) & (np.arange(start.size) <= last[:, None])
    before = np.arange(start.size) < np.searchsorted(start, seen.entered)[:, None]
    mass, settled = _self_consistent(covers.astype(np.float64), before.astype(np.float64), seen.people)
    return OnsetCurve(seen.n, start, end, mass, settled)


def free_at(curve: OnsetCurve, times: ArrayLike) -> Floats:
    """Share of people still free at some times.

    Parameters
    ----------
    curve : OnsetCurve
        An estimate.
    times : array_like, shape (m,)
        In the unit of the curve, 0 or more.

    Returns
    -------
    ndarray, shape (m,)
        Shares; inside an interval on a straight line over it, after the last finite end level.

    Raises
    ------
    Nothing.

    Examples
    --------
    >>> free_at(turnbull(onsets([0, 2, 6], [2, 6, np.inf])), [2, 4, 6]).round(4).tolist()
    [0.6667, 0.5, 0.3333]
    """
    at = np.asarray(times, dtype=np.float64)[:, None]
    wide = np.where(np.isfinite(curve.end) & (curve.end > curve.start), curve.end - curve.start, 1.0)
    inside = np.clip((at - curve.start) / wide, 0.0, 1.0)
    begun = np.where(np.isinf(curve.end), 0.0, np.where(curve.end > curve.start, inside, at >= curve.end))
    return np.asarray(1.0 - begun @ curve.mass, dtype=np.float64)


def onset_test(groups: Sequence[Onsets]) -> OnsetTest:
    """Log-rank test that k groups share one curve, from intervals.

    Parameters
    ----------
    groups : sequence of Onsets
        Two or more groups.

    Returns
    -------
    OnsetTest
        None for chi-squared and p where a group is empty or nobody's onset differs from the others'.

    Raises
    ------
    ValueError
        When there are fewer than two groups.

    Notes
    -----
    The permutation variance supposes that all groups were asked at the same times.

    References
    ----------
    .. [1] Finkelstein D.M., Biometrics 42:845 (1986).
    .. [2] Fay M.P., Biometrics 55:102 (1999): scores and permutation.

    Examples
    --------
    >>> early, late = onsets([0, 0, 2], [2, 2, 6]), onsets([6, 6, 2], [np.inf, np.inf, 6])
    >>> round(onset_test([early, late]).chi_squared, 4)
    3.1208
    """
    if len(groups) < 2:
        raise ValueError(f"groups must be at least 2, got {len(groups)}")
    parts = [np.concatenate([getattr(g, name) for g in groups]) for name in ("left", "right", "people", "entered")]
    everyone = Onsets(*parts)
    which = np.repeat(np.arange(len(groups)), [g.left.size for g in groups])
    score = _scores(everyone) if everyone.n > 0 else everyone.people
    sums = np.bincount(which, weights=score * everyone.people, minlength=len(groups))
    size, degrees = np.array([g.n for g in groups]), len(groups) - 1
    spread = float((everyone.people * score**2).sum()) / max(everyone.n - 1.0, 1.0)
    if spread < SETTLED or np.any(size == 0):
        return OnsetTest(tuple(sums.tolist()), None, degrees, None)
    chi_squared = float((sums**2 / size).sum() / spread)
    return OnsetTest(tuple(sums.tolist()), chi_squared, degrees, float(chdtrc(degrees, chi_squared)))


def _supports(seen: Onsets) -> tuple[Floats, Floats, Places, Places]:
    """The intervals that can have a mass, and the first and the last of them in each row's interval."""
    values = np.unique(np.concatenate([seen.left, seen.right]))
    right = 2 * np.searchsorted(values, seen.right)
    # A moment that is known is an interval that begins just before it.
    left = 2 * np.searchsorted(values, seen.left) - (seen.left == seen.right)
    code = np.concatenate([right, left])
    is_left = np.repeat([0, 1], [right.size, left.size])
    ends = np.unique(np.column_stack([code, is_left]), axis=0)
    innermost = np.flatnonzero((ends[:-1, 1] == 1) & (ends[1:, 1] == 0))
    start, end = ends[innermost, 0], ends[innermost + 1, 0]
    first, last = np.searchsorted(start, left), np.searchsorted(end, right, side="right") - 1
    return values[(start + 1) // 2], values[end // 2], first, last


def _self_consistent(covers: Floats, before: Floats, people: Floats) -> tuple[Floats, bool]:
    """Masses that each person's share over their own interval, and before they came, adds up to again."""
    mass = np.full(covers.shape[1], 1.0 / max(covers.shape[1], 1))
    if people.sum() == 0:
        return mass, True
    comes_late = bool(before.any())
    for _ in range(ITERATIONS_MAX):
        last, count = mass, mass * ((people / (covers @ mass)) @ covers)
        if comes_late:
            count += mass * ((people / np.maximum(1.0 - before @ mass, SETTLED)) @ before)
        mass = count / count.sum()
        if np.abs(mass - last).max() < SETTLED:
            return mass, True
    return mass, False


def _scores(seen: Onsets) -> Floats:
    curve = turnbull(seen)
    _, _, first, last = _supports(seen)
    after = np.append(curve.mass[::-1].cumsum()[::-1], 0.0)
    still, gone = np.clip(after[first], 0, 1), np.clip(after[last + 1], 0, 1)
    share = np.maximum(still - gone, np.finfo(np.float64).tiny)
    come = np.clip(after[np.searchsorted(curve.start, seen.entered)], np.finfo(np.float64).tiny, 1)
    return np.asarray((xlogy(still, still) - xlogy(gone, gone)) / share - np.log(come), dtype=np.float64)
