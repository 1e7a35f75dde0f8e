"""How long, and over what distance, a person could have seen a complaint come back: worked out person by person.

The application has the database do it (`fittings/triggers/courses.sql`); a test holds that to this.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

DAYS_PER_WEEK = 7.0


@dataclass(frozen=True, slots=True)
class Report:
    """One answered follow-up: day, distance a week since the one before (km), free of every complaint, recurrence."""

    on: date
    distance_km_week: float | None
    free: bool
    recurred: bool


@dataclass(frozen=True, slots=True)
class AtRisk:
    """Days and km at risk, and whether they ended with a recurrence."""

    days: int
    km: float
    recurred: bool


def time_at_risk(
    chosen_on: date, *, has_past: bool, reports: Sequence[Report], distance_km_week: float | None = None
) -> AtRisk | None:
    """Time and distance at risk of a recurrence, up to the first one or the last answer.

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

    Notes
    -----
    Somebody whose only complaints were still there at the choice is at risk from the first follow-up that is free of
    them. A distance told at a follow-up holds back to the follow-up before. Every km counts, whether in the chosen
    shoe or not: people are compared as they chose. An answer given before the time begins adds nothing.

    Examples
    --------
    >>> time_at_risk(date(2025, 1, 1), has_past=True, reports=[Report(date(2025, 1, 15), 20.0, True, False)])
    AtRisk(days=14, km=40.0, recurred=False)
    """
    ordered = sorted(reports, key=lambda report: report.on)
    start = chosen_on if has_past else next((report.on for report in ordered if report.free), None)
    if start is None:
        return None
    km, last, recurred = 0.0, start, False
    for report in ordered:
        if report.on <= start:
            continue
        weekly = distance_km_week if report.distance_km_week is None else report.distance_km_week
        km += (weekly or 0.0) * (report.on - last).days / DAYS_PER_WEEK
        last, recurred = report.on, report.recurred
        if recurred:
            break
    return None if last == start else AtRisk((last - start).days, km, recurred)
