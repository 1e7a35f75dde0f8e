"""What became of the people fitted, by whether they chose inside their target."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from core import row_scope
from core.models import Store
from core.selectors import stores_of
from fittings.domain.outcomes import SMALL_CELL, Comparison, Rate, compare_risks, hide_small, rate_per_1000_km
from fittings.domain.person_time import AtRisk, Report, time_at_risk
from fittings.domain.survival import LogRank, SurvivalCurve, kaplan_meier, log_rank
from fittings.models import Choice, FollowUp, HistoryItem

LOST_AFTER_DAYS = 28
"""Somebody with an open follow-up this long overdue, and nothing answered since, counts as lost."""

DAYS_PER_WEEK = 7.0

MARK_WEEKS: tuple[int, ...] = (2, 6, 12, 26)
"""Weeks at which the curve is read off in the table."""


@dataclass(frozen=True, slots=True)
class Course:
    """One person's choice and what followed; `lost` when they stopped answering."""

    in_target: bool
    answered: bool
    lost: bool
    at_risk: AtRisk | None


@dataclass(frozen=True, slots=True)
class Group:
    """One row of the outcomes. A count that is hidden is None, and so is what could give it away."""

    name: str
    people: int | None
    answered: int | None
    lost: int | None
    at_risk: int | None
    recurrences: int | None
    km: float | None
    rate: Rate | None
    curve: SurvivalCurve | None
    at_risk_after: tuple[int | None, ...]
    watched_weeks: float


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Outcomes of some stores together; `hides` says that small counts are hidden."""

    stores: tuple[str, ...]
    groups: tuple[Group, ...]
    total: Group
    comparison: Comparison | None
    test: LogRank | None
    hides: bool


def outcomes_for(user: Any, *, on: dt.date | None = None) -> Outcomes:
    """Outcomes of the user's own stores, or of all stores together for head office: no names, small counts hidden."""
    stores = stores_of(user)
    own = set(user.store_ids())
    hides = any(store.pk not in own for store in stores)
    with row_scope.figures() if hides else nullcontext():
        courses = courses_in(stores, on=on or timezone.localdate())
    split = {
        "In the target": [course for course in courses if course.in_target],
        "Outside the target": [course for course in courses if not course.in_target],
    }
    groups = [_group(name, members) for name, members in split.items()]
    total = _group("All", courses)
    comparison: Comparison | None = _compare(groups)
    test: LogRank | None = _test(list(split.values()))
    if hides:
        groups, total = _hide(groups), _hide([total])[0]
        if any(group.recurrences is None for group in groups):
            comparison, test = None, None
    return Outcomes(tuple(store.name for store in stores), tuple(groups), total, comparison, test, hides)


def courses_in(stores: Sequence[Store], *, on: dt.date) -> list[Course]:
    """The course of everybody who chose a shoe in these stores: two queries."""
    reports, overdue = _follow_ups(stores, on)
    return [
        _course(row, reports.get(row["fitting_id"], ()), overdue.get(row["fitting_id"])) for row in _choices(stores)
    ]


def _choices(stores: Sequence[Store]) -> Iterable[Mapping[str, Any]]:
    history = HistoryItem.objects.filter(fitting=OuterRef("fitting"))
    rows: Iterable[Any] = (
        Choice.objects.filter(fitting__store__in=stores)
        .annotate(has_past=Exists(history.filter(now=False)), has_history=Exists(history))
        .order_by("pk")
        .values("fitting_id", "in_target", "at", "has_past", "has_history", "fitting__distance_km_week")
    )
    return rows


def _follow_ups(stores: Sequence[Store], on: dt.date) -> tuple[dict[int, list[Report]], Mapping[int, dt.date]]:
    """Answered follow-ups by fitting, and the day of the last one that is long overdue."""
    reports: dict[int, list[Report]] = defaultdict(list)
    overdue: dict[int, dt.date] = {}
    limit = on - dt.timedelta(days=LOST_AFTER_DAYS)
    rows = FollowUp.objects.filter(
        Q(answered_at__isnull=False) | Q(due_on__lt=limit), fitting__store__in=stores
    ).values_list("fitting_id", "due_on", "answered_at", "distance_km_week", "free_of_complaints", "recurrence")
    for fitting_id, due_on, answered_at, distance, free, recurrence in rows:
        if answered_at is None:
            overdue[fitting_id] = max(due_on, overdue.get(fitting_id, due_on))
        else:
            day = timezone.localdate(answered_at)
            reports[fitting_id].append(Report(day, distance, bool(free), recurrence != ""))
    return reports, overdue


def _course(row: Mapping[str, Any], reports: Sequence[Report], overdue: dt.date | None) -> Course:
    last = max((report.on for report in reports), default=None)
    return Course(
        in_target=row["in_target"],
        answered=bool(reports),
        lost=overdue is not None and (last is None or last < overdue),
        at_risk=time_at_risk(
            timezone.localdate(row["at"]),
            has_past=row["has_past"],
            reports=reports,
            distance_km_week=row["fitting__distance_km_week"],
        )
        if row["has_history"]
        else None,
    )


def _times(courses: Sequence[Course]) -> tuple[list[float], list[bool]]:
    at_risk = [course.at_risk for course in courses if course.at_risk is not None]
    return [item.days / DAYS_PER_WEEK for item in at_risk], [item.recurred for item in at_risk]


def _group(name: str, courses: Sequence[Course]) -> Group:
    weeks, recurred = _times(courses)
    km = sum(course.at_risk.km for course in courses if course.at_risk is not None)
    return Group(
        name=name,
        people=len(courses),
        answered=sum(course.answered for course in courses),
        lost=sum(course.lost for course in courses),
        at_risk=len(weeks),
        recurrences=sum(recurred),
        km=km,
        rate=rate_per_1000_km(sum(recurred), km),
        curve=kaplan_meier(weeks, recurred),
        at_risk_after=tuple(sum(week >= mark for week in weeks) for mark in MARK_WEEKS),
        watched_weeks=_watched(weeks),
    )


def _watched(weeks: Sequence[float]) -> float:
    """How long at least five are watched, or the longest where there are fewer: the curve is drawn so far."""
    return max(weeks, default=0.0) if len(weeks) < SMALL_CELL else sorted(weeks)[-SMALL_CELL]


def _compare(groups: Sequence[Group]) -> Comparison:
    inside, outside = groups
    return compare_risks(
        (inside.recurrences or 0, outside.recurrences or 0), (inside.at_risk or 0, outside.at_risk or 0)
    )


def _test(split: Sequence[Sequence[Course]]) -> LogRank:
    return log_rank([_times(courses) for courses in split])


def _hide(groups: Sequence[Group]) -> list[Group]:
    """Hide small counts, and with the recurrences everything that would give them away."""
    columns = {
        name: hide_small([getattr(group, name) for group in groups], total_shown=len(groups) > 1)
        for name in ("people", "answered", "lost", "at_risk", "recurrences")
    }
    hidden = []
    for index, group in enumerate(groups):
        counts = {name: column[index] for name, column in columns.items()}
        tells = counts["recurrences"] is None or counts["at_risk"] is None
        hidden.append(
            Group(
                name=group.name,
                **counts,
                km=None if tells else group.km,
                rate=None if tells else group.rate,
                curve=None if tells else group.curve,
                at_risk_after=() if tells else hide_small([n or 0 for n in group.at_risk_after], total_shown=False),
                watched_weeks=0.0 if tells else group.watched_weeks,
            )
        )
    return hidden
