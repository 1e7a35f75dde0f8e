"""How long, and over what distance, a person could have seen a complaint come back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

DAYS_PER_WEEK = 7.0


@dataclass(frozen=True, slots=True)
class Report:
    """One answered follow-up: day, distance a week since the one before (km), free of every complaint, recurrence.

    `free` is None where the answer does not say whether a complaint is there.
    """

    on: date
    distance_km_week: float | None
    free: bool | None
    recurred: bool

    @property
    def is_known(self) -> bool:
        return self.recurred or self.free is not None


@dataclass(frozen=True, slots=True)
class AtRisk:
    """Days and km at risk, and whether they ended with a recurrence; km None where a part of it is not known."""

    days: int
    km: float | None
    recurred: bool


def time_at_risk(
    chosen_on: date, *, has_past: bool, reports: Sequence[Report], distance_km_week: float | None = None
) -> AtRisk | None:
    """Time and distance at risk of a recurrence, up to the first one or the last answer about the complaints.

    Parameters
    ----------
    chosen_on : date
        Day of the choice, where the time begins for somebody with a complaint that had settled.
    has_past : bool
        Whether a complaint had settled by then.
    reports : sequence of Report
        The answered follow-ups, in any order.
    distance_km_week : float or None
        Distance a week told at the fitting (km): stands in where a follow-up names none.

    Returns
    -------
    AtRisk or None
        None when the person was never at risk while watched: no complaint had settled, or nothing was answered.

    Raises
    ------
    Nothing.

    Notes
    -----
    Somebody whose only complaints were still there at the choice is at risk from the first follow-up that is free of
    them. A distance told at a follow-up holds back to the follow-up before. Every km counts, whether in the chosen
    shoe or not: people are compared as they chose. An answer given before the time begins adds nothing, and time after
    the last answer that says whether a complaint is there was not watched. A distance that is known neither from the
    follow-up nor from the fitting leaves the sum unknown; it is never taken for 0.

    Examples
    --------
    >>> time_at_risk(date(2025, 1, 1), has_past=True, reports=[Report(date(2025, 1, 15), 20.0, True, False)])
    AtRisk(days=14, km=40.0, recurred=False)
    """
    ordered = sorted(reports, key=lambda report: report.on)
    start = chosen_on if has_past else next((report.on for report in ordered if report.free), None)
    if start is None:
        return None
    known = [report for report in ordered if report.on > start and report.is_known]
    if not known:
        return None
    end = next((report for report in known if report.recurred), known[-1])
    watched = [report for report in ordered if start < report.on <= end.on]
    return AtRisk((end.on - start).days, _distance(start, watched, distance_km_week), end.recurred)


def _distance(start: date, watched: Sequence[Report], distance_km_week: float | None) -> float | None:
    km, last = 0.0, start
    for report in watched:
        days, last = (report.on - last).days, report.on
        weekly = distance_km_week if report.distance_km_week is None else report.distance_km_week
        if days and weekly is None:
            return None
        km += (weekly or 0.0) * days / DAYS_PER_WEEK
    return km
