"""Time without recurrence where its day is known: Kaplan-Meier curve with its limits, and the log-rank test."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import chdtrc

from fittings.domain.outcomes.beta_product import beta_product_limits

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """Kaplan-Meier estimate at the times with events; `low` and `high` are limits just after each."""

    n: int
    events_total: int
    confidence: float
    time: Floats
    at_risk: Floats
    events: Floats
    survival: Floats
    standard_error: Floats
    low: Floats
    high: Floats
    method: str = "Kaplan-Meier, Greenwood standard error, beta product limits"


@dataclass(frozen=True, slots=True)
class LogRank:
    """Log-rank test of k groups: observed and expected events, chi-squared, degrees of freedom, p.

    `chi_squared` and `p` are None where there is nothing to compare.
    """

    observed: tuple[float, ...]
    expected: tuple[float, ...]
    chi_squared: float | None
    degrees: int
    p: float | None


@dataclass(frozen=True, slots=True)
class LifeTable:
    """How many stopped being watched at each distinct time, ascending, and how many of them by an event.

    `late` says how many of them came only then or later, None where all came at the beginning; see `late_entry`.
    """

    time: Floats
    left: Floats
    events: Floats
    late: Floats | None = None

    @property
    def n(self) -> int:
        return int(self.left.sum())

    def at_risk(self) -> Floats:
        """How many are watched up to each time of the table, and a last position for after it: nobody."""
        after = np.append(self.left[::-1].cumsum()[::-1], 0.0)
        return after if self.late is None else after - np.append(self.late, 0.0)


def life_table(duration: ArrayLike, event: ArrayLike) -> LifeTable:
    """Count people by how long they were watched; whole numbers are counted without sorting.

    Parameters
    ----------
    duration : array_like, shape (n,)
        Time each person was watched, any unit, 0 or more.
    event : array_like of bool, shape (n,)
        Whether the event came at the end of it.

    Returns
    -------
    LifeTable
        One position for each distinct time.

    Raises
    ------
    ValueError
        When lengths differ or a time is negative or not finite.

    Examples
    --------
    >>> life_table([3, 1, 3], [True, False, False]).left.tolist()
    [1.0, 2.0]
    """
    happened = np.asarray(event, dtype=np.bool_)
    whole = np.asarray(duration)
    if _countable(whole, happened):
        left = np.bincount(whole)
        # Picks the few in a third of the time that indexing by truth values takes.
        events = np.bincount(np.compress(happened, whole), minlength=left.size)
        seen = np.flatnonzero(left)
        return LifeTable(*(part.astype(np.float64) for part in (seen, left[seen], events[seen])))
    time, happened = _checked(duration, event)
    distinct, place = np.unique(time, return_inverse=True)
    counts = (np.bincount(at, minlength=distinct.size) for at in (place, place[happened]))
    return LifeTable(distinct, *(part.astype(np.float64) for part in counts))


def curve_of(table: LifeTable, confidence: float = 0.95) -> SurvivalCurve:
    """Kaplan-Meier estimate from people counted by time, as a database adds them up.

    Parameters
    ----------
    table : LifeTable
        Times ascending and distinct; see `life_table`.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    SurvivalCurve
        One position for each distinct time with events; empty for no people or no events.

    Raises
    ------
    ValueError
        When the confidence is out of range.

    Notes
    -----
    A person who leaves at the time of an event still counts as at risk then.

    References
    ----------
    .. [1] Kaplan E.L., Meier P., J Am Stat Assoc 53:457 (1958); Greenwood M., Rep Public Health Med Subj 33 (1926).

    Examples
    --------
    >>> curve_of(life_table([1, 2, 3, 4], [True, False, True, False])).at_risk.tolist()
    [4.0, 2.0]
    """
    seen, watched = table.events > 0, table.at_risk()
    distinct, died, at_risk = table.time[seen], table.events[seen], watched[:-1][seen]
    # Who comes later says nothing of those watched until then.
    after = np.minimum(watched[1:][seen], at_risk - died)
    low, high = beta_product_limits(at_risk, died, after, confidence)
    survival = np.asarray(np.cumprod(1.0 - died / at_risk), dtype=np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        hazard_variance = np.cumsum(died / (at_risk * (at_risk - died)))
        error = np.where(survival > 0, survival * np.sqrt(hazard_variance), 0.0)
    return SurvivalCurve(table.n, int(died.sum()), confidence, distinct, at_risk, died, survival, error, low, high)


def log_rank_of(tables: Sequence[LifeTable]) -> LogRank:
    """Log-rank test from people counted by time, as a database adds them up.

    Parameters
    ----------
    tables : sequence of LifeTable
        Two or more groups.

    Returns
    -------
    LogRank
        Observed and expected events in each group, chi-squared with the hypergeometric (co)variance (ties counted
        together), k − 1 degrees of freedom, and p. None where there are no events or a group is empty.

    Raises
    ------
    ValueError
        When there are fewer than two groups.

    References
    ----------
    .. [1] Mantel N., Cancer Chemother Rep 50:163 (1966).

    Examples
    --------
    >>> one, other = life_table([6, 7, 10], [1, 1, 0]), life_table([1, 2, 3], [1, 1, 1])
    >>> round(log_rank_of([one, other]).chi_squared, 4)
    5.0517
    """
    if len(tables) < 2:
        raise ValueError(f"groups must be at least 2, got {len(tables)}")
    moments = np.unique(np.concatenate([table.time[table.events > 0] for table in tables]))
    risk = np.array([table.at_risk()[np.searchsorted(table.time, moments)] for table in tables])
    died = np.array([_events_at(table, moments) for table in tables])
    risk_all, died_all = risk.sum(axis=0), died.sum(axis=0)
    share = risk / risk_all
    observed, expected = died.sum(axis=1), (share * died_all).sum(axis=1)
    factor = np.where(risk_all > 1, died_all * (risk_all - died_all) / np.maximum(risk_all - 1, 1), 0.0)
    covariance = np.diag((share * factor).sum(axis=1)) - (share * factor) @ share.T
    chi_squared = _quadratic_form(observed - expected, covariance)
    degrees = len(tables) - 1
    p = None if chi_squared is None else float(chdtrc(degrees, chi_squared))
    return LogRank(tuple(observed.tolist()), tuple(expected.tolist()), chi_squared, degrees, p)


def _quadratic_form(difference: Floats, covariance: Floats) -> float | None:
    """The test statistic; None where the groups were never at risk together, so that nothing can be compared."""
    difference, covariance = difference[:-1], covariance[:-1, :-1]
    if np.linalg.matrix_rank(covariance, tol=1e-10 * max(1.0, float(np.trace(covariance)))) < difference.size:
        return None
    return float(difference @ np.linalg.solve(covariance, difference))


def _events_at(table: LifeTable, moments: Floats) -> Floats:
    seen = table.events > 0
    at = np.searchsorted(moments, table.time[seen])
    return np.bincount(at, weights=table.events[seen], minlength=moments.size).astype(np.float64)


def _countable(time: NDArray[np.generic], happened: NDArray[np.bool_]) -> bool:
    """Whole numbers that are few beside the people: days, not nanoseconds."""
    if time.ndim != 1 or time.shape != happened.shape or time.size == 0 or not np.issubdtype(time.dtype, np.integer):
        return False
    return bool(time.min() >= 0 and time.max() <= 4 * time.size + 10_000)


def _checked(duration: ArrayLike, event: ArrayLike) -> tuple[Floats, NDArray[np.bool_]]:
    time, happened = np.asarray(duration, dtype=np.float64), np.asarray(event, dtype=np.bool_)
    if time.ndim != 1 or time.shape != happened.shape:
        raise ValueError(f"duration and event must be of one length, got {time.shape} and {happened.shape}")
    if not np.all(np.isfinite(time)) or np.any(time < 0):
        raise ValueError("duration must be finite and >= 0 for everyone")
    return time, happened
