"""What became of the people fitted, by whether they chose inside their target, by band or by store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from django.utils import timezone

from catalogue.selectors import band_list
from core.accounts.selectors import stores_of
from core.gate import row_scope
from core.models import Store, User
from fittings.domain.outcomes.rates import SMALL_CELL, Comparison, Rate, compare_risks, hide_small, rate_per_1000_km
from fittings.domain.outcomes.survival import (
    LifeTable,
    LogRank,
    SurvivalCurve,
    curve_of,
    log_rank_of,
    survival_at,
    thinned,
)
from fittings.selectors.courses import DayCount, OutcomeFilter, counts_by_day
from fittings.selectors.released import in_quarters, released_counts, released_until

DAYS_PER_WEEK = 7.0

MARK_WEEKS: tuple[int, ...] = (2, 6, 12, 26)
"""Weeks at which the curve is read off in the table."""

INSIDE, OUTSIDE = "In the target", "Outside the target"


@dataclass(frozen=True, slots=True)
class Reading:
    """A curve read off at a mark: share still free with its limits, people at risk from then on, recurrences so far."""

    share: float
    low: float
    high: float
    at_risk: int | None
    events: int


@dataclass(frozen=True, slots=True)
class Group:
    """One row of the outcomes. A count that is hidden is None, and so is what could give it away.

    The curve's times are weeks; `watched_weeks` says how long at least five people are watched. `readings` are at
    `MARK_WEEKS`.
    """

    name: str
    people: int | None
    answered: int | None
    lost: int | None
    at_risk: int | None
    recurrences: int | None
    km: float | None
    rate: Rate | None
    curve: SurvivalCurve | None
    readings: tuple[Reading | None, ...]
    watched_weeks: float


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Outcomes of some stores together; `hides` says that small counts are hidden and all counts have noise."""

    stores: tuple[str, ...]
    groups: tuple[Group, ...]
    total: Group
    comparison: Comparison | None
    test: LogRank | None
    hides: bool


@dataclass(frozen=True, slots=True)
class Scope:
    """Whose outcomes somebody reads: the stores, and whether small counts are hidden and all counts have noise."""

    stores: tuple[Store, ...]
    hides: bool

    @property
    def until(self) -> dt.date | None:
        """The first day of choices that are not shown yet; None where all are."""
        return released_until(timezone.localdate()) if self.hides else None

    def filter(self, **given: Any) -> OutcomeFilter:
        """A filter on these stores; on all of them for whole quarters."""
        if self.hides:
            given |= in_quarters(given.get("since"), given.get("until"), timezone.localdate())
        return OutcomeFilter(stores=tuple(store.pk for store in self.stores), **given)

    def opened(self) -> AbstractContextManager[Any]:
        """See the rows of these stores: the reader's own are in scope, of others only figures without names."""
        return row_scope.figures() if self.hides else nullcontext()

    def names(self) -> tuple[str, ...]:
        return tuple(store.name for store in self.stores)


def scope_of(user: User, store: Store | None = None) -> Scope:
    """The user's own stores, or all for head office, whose small counts are hidden; one of them where given."""
    seen = tuple(item for item in stores_of(user) if store is None or item.pk == store.pk)
    own = set(user.store_ids())
    return Scope(seen, any(item.pk not in own for item in seen))


def outcomes_for(
    user: User,
    *,
    scope: Scope | None = None,
    wanted: OutcomeFilter | None = None,
    by: str = "target",
    on: dt.date | None = None,
) -> Outcomes:
    """Outcomes of a scope (the user's own where left out): two to four queries, however many people.

    Parameters
    ----------
    wanted : which of the people; everybody of the scope where left out
    by : "target", "band" or "store"
    on : the day on which what is overdue counts as lost; today where left out
    """
    scope = scope or scope_of(user)
    count = released_counts if scope.hides else counts_by_day
    with scope.opened():
        counts = count(wanted or scope.filter(), by, on=on or timezone.localdate())
    return finish(counts, group_names(by, scope), scope, compares=by == "target")


def finish(counts: Sequence[DayCount], names: Mapping[Any, str], scope: Scope, *, compares: bool) -> Outcomes:
    """Everything that is shown, from people added up by the day."""
    parts = [(name, [row for row in counts if row.key == key]) for key, name in names.items()]
    split = [(name, rows) for name, rows in parts if rows or compares]
    tables = [_table(rows) for _, rows in split]
    groups = [_group(name, rows, table) for (name, rows), table in zip(split, tables, strict=True)]
    total = _group("All", counts, _table(counts))
    comparison = _compare(groups) if compares else None
    test = log_rank_of(tables) if len(tables) > 1 else None
    if scope.hides:
        groups, total = _hide(groups), _hide([total])[0]
        if any(group.recurrences is None for group in groups):
            comparison, test = None, None
    return Outcomes(scope.names(), tuple(groups), total, comparison, test, scope.hides)


def group_names(by: str, scope: Scope) -> dict[Any, str]:
    if by == "band":
        return {band.order: band.name for band in band_list()}
    if by == "store":
        return {store.pk: store.name for store in scope.stores}
    return {True: INSIDE, False: OUTSIDE}


def _table(rows: Sequence[DayCount]) -> LifeTable:
    """People at risk by weeks; rows of several groups with the same days are added up."""
    watched = [row for row in rows if row.days is not None]
    days = np.array([row.days for row in watched], dtype=np.int64)
    distinct, place = np.unique(days, return_inverse=True)
    left = np.bincount(place, weights=[row.people for row in watched], minlength=distinct.size)
    events = np.bincount(place, weights=[row.recurred for row in watched], minlength=distinct.size)
    return LifeTable(distinct / DAYS_PER_WEEK, left.astype(np.float64), events.astype(np.float64))


def _group(name: str, rows: Sequence[DayCount], table: LifeTable) -> Group:
    recurrences, km, curve = int(table.events.sum()), float(sum(row.km for row in rows)), curve_of(table)
    return Group(
        name=name,
        people=sum(row.people for row in rows),
        answered=sum(row.answered for row in rows),
        lost=sum(row.lost for row in rows),
        at_risk=table.n,
        recurrences=recurrences,
        km=km,
        # A distance that is not known is not 0: its recurrence is left out of the rate with it.
        rate=rate_per_1000_km(sum(row.recurred_with_km for row in rows), km),
        curve=curve,
        readings=tuple(_reading(table, curve, mark) for mark in MARK_WEEKS),
        watched_weeks=_watched(table),
    )


def _reading(table: LifeTable, curve: SurvivalCurve, weeks: float) -> Reading:
    at_risk = int(table.left[table.time >= weeks].sum())
    return Reading(*survival_at(curve, weeks), at_risk, int(table.events[table.time <= weeks].sum()))


def _watched(table: LifeTable) -> float:
    """How long at least five are watched, or the longest where there are fewer: the curve is drawn so far."""
    if table.n == 0:
        return 0.0
    still = table.left[::-1].cumsum()[::-1]
    reached = np.flatnonzero(still >= min(SMALL_CELL, table.n))
    return float(table.time[-1] if table.n < SMALL_CELL else table.time[reached[-1]])


def _compare(groups: Sequence[Group]) -> Comparison:
    inside, outside = groups
    return compare_risks(
        (inside.recurrences or 0, outside.recurrences or 0), (inside.at_risk or 0, outside.at_risk or 0)
    )


_COUNTS = ("people", "answered", "lost", "at_risk", "recurrences")


def _hide(groups: Sequence[Group]) -> list[Group]:
    """Hide small counts, and with the recurrences everything that would give them away."""
    columns = {name: _hidden([getattr(group, name) for group in groups]) for name in _COUNTS}
    # That nearly everybody had a recurrence tells of the few who had none.
    rarer = _hidden([min(group.recurrences or 0, (group.at_risk or 0) - (group.recurrences or 0)) for group in groups])
    hidden = []
    for index, group in enumerate(groups):
        counts: dict[str, Any] = {name: column[index] for name, column in columns.items()}
        if None in (counts["recurrences"], counts["at_risk"], rarer[index]):
            hidden.append(_without_recurrences(group, counts))
            continue
        curve = None if group.curve is None else thinned(group.curve, SMALL_CELL)
        shown = replace(group, **counts, curve=curve, readings=_readable(group.readings))
        hidden.append(replace(shown, km=None, rate=None) if _rate_points_at_few(groups) else shown)
    return hidden


def _rate_points_at_few(groups: Sequence[Group]) -> bool:
    """Whether a rate, set against the recurrences, gives away a small count of people without a distance."""
    with_km = [group.rate.events if group.rate else 0 for group in groups]
    without = [(group.recurrences or 0) - events for group, events in zip(groups, with_km, strict=True)]
    return any(0 < count < SMALL_CELL for count in without) or (any(without) and min(with_km) < SMALL_CELL)


def _readable(readings: Sequence[Reading | None]) -> tuple[Reading | None, ...]:
    """Only readings with at least five recurrences since the one before, and five people still at risk."""
    shown: list[Reading | None] = []
    events = 0
    for reading in readings:
        enough = reading is not None and reading.events - events >= SMALL_CELL
        shown.append(reading if enough else None)
        events = reading.events if reading is not None and enough else events
    return tuple(
        item if item is None or (item.at_risk or 0) >= SMALL_CELL else replace(item, at_risk=None) for item in shown
    )


def _hidden(column: Sequence[int]) -> tuple[int | None, ...]:
    return hide_small(column, total_shown=len(column) > 1)


def _without_recurrences(group: Group, counts: Mapping[str, Any]) -> Group:
    kept = {**counts, "recurrences": None}
    return replace(group, **kept, km=None, rate=None, curve=None, readings=(), watched_weeks=0.0)
