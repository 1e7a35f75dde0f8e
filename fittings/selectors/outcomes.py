"""What became of the people fitted, by whether they chose inside their target, by band or by store."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from django.utils import timezone

from catalogue.selectors import BandRow, band_list
from core.accounts.selectors import stores_of
from core.gate import row_scope
from core.models import Store, User
from fittings.domain.outcomes.clusters import NOBODY, rate_of_people
from fittings.domain.outcomes.hiding import to_fives
from fittings.domain.outcomes.late_entry import late_life_table
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
from fittings.models import LeftOut
from fittings.selectors.courses import Counts, DayCount, OutcomeFilter, PeopleCount, counts_of

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

    People are counted once each: `at_risk` with any complaint that could come back, `back` with one that did,
    `left_out` by the reasons of `LeftOut`, `without_km` at risk over a distance that is not known. `recurrences` are
    complaints. The curve's times are weeks; `watched_weeks` says how long at least five are watched. `readings` are at
    `MARK_WEEKS`.
    """

    name: str
    people: int | None
    answered: int | None
    lost: int | None
    at_risk: int | None
    back: int | None
    recurrences: int | None
    left_out: tuple[int | None, ...]
    without_km: int | None
    visits: int | None
    visits_open: int | None
    km: float | None
    rate: Rate | None
    curve: SurvivalCurve | None
    readings: tuple[Reading | None, ...]
    watched_weeks: float


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Outcomes of some stores together; `hides` says that small counts are hidden, `rounds` that all are rounded."""

    stores: tuple[str, ...]
    groups: tuple[Group, ...]
    total: Group
    comparison: Comparison | None
    test: LogRank | None
    hides: bool
    rounds: bool = False


@dataclass(frozen=True, slots=True)
class Scope:
    """Whose outcomes somebody reads: the stores, whether small counts are hidden, whether filters narrow the people."""

    stores: tuple[Store, ...]
    hides: bool
    narrowed: bool = False

    @property
    def rounds(self) -> bool:
        """Whether counts are rounded: a page of some of the people could be set against one of nearly the same."""
        return self.hides and self.narrowed

    def filter(self, **given: Any) -> OutcomeFilter:
        """A filter on these stores."""
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
    bands: Sequence[BandRow] | None = None,
) -> Outcomes:
    """Outcomes of a scope (the user's own where left out): three or four queries, however many people.

    Parameters
    ----------
    wanted : which of the people; everybody of the scope where left out
    by : "target", "band" or "store"
    on : the day on which what is overdue counts as lost; today where left out
    bands : of the scale, where they were read already
    """
    scope = scope or scope_of(user)
    with scope.opened():
        counts = counts_of(wanted or scope.filter(), by, on=on or timezone.localdate())
    return finish(counts, group_names(by, scope, bands), scope, compares=by == "target")


def finish(counts: Counts, names: Mapping[Any, str], scope: Scope, *, compares: bool) -> Outcomes:
    """Everything that is shown, from people and complaints added up."""
    people = {row.key: row for row in counts.people}
    split = [(name, _people(people, key), key) for key, name in names.items() if key in people or compares]
    tables = [_table([row for row in counts.days if row.key == key]) for *_, key in split]
    groups = [_group(name, row, table) for (name, row, _), table in zip(split, tables, strict=True)]
    total = _group("All", _people(people, None), _table(counts.days))
    comparison = _compare(groups) if compares else None
    test = log_rank_of(tables) if len(tables) > 1 else None
    if scope.hides:
        groups, total = _hide(groups), _hide([total])[0]
        if any(group.recurrences is None for group in groups):
            comparison, test = None, None
    if scope.rounds:
        groups, total = [_rounded(group) for group in groups], _rounded(total)
        comparison, test = _compare(groups) if comparison else None, _rounded_test(test)
    return Outcomes(scope.names(), tuple(groups), total, comparison, test, scope.hides, scope.rounds)


def group_names(by: str, scope: Scope, bands: Sequence[BandRow] | None = None) -> dict[Any, str]:
    if by == "band":
        return {band.order: band.name for band in bands or band_list()}
    if by == "store":
        return {store.pk: store.name for store in scope.stores}
    return {True: INSIDE, False: OUTSIDE}


def _people(counted: Mapping[Any, PeopleCount], key: Any) -> PeopleCount:
    return counted.get(key) or PeopleCount(key, 0, 0, 0, 0, 0, 0, (0,) * len(LeftOut), 0, 0, NOBODY)


def _table(rows: Sequence[DayCount]) -> LifeTable:
    """Complaints at risk by weeks; rows of several groups with the same days are added up."""
    columns = [[getattr(row, name) for row in rows] for name in ("entered", "days", "complaints", "recurred")]
    entered, days, complaints, recurred = np.array(columns, dtype=np.float64)
    return late_life_table(entered / DAYS_PER_WEEK, days / DAYS_PER_WEEK, complaints, recurred)


def _group(name: str, row: PeopleCount, table: LifeTable) -> Group:
    curve = curve_of(table)
    return Group(
        name=name,
        people=row.people,
        answered=row.answered,
        lost=row.lost,
        at_risk=row.at_risk,
        back=row.back,
        recurrences=row.recurrences,
        left_out=row.left_out,
        without_km=row.at_risk - row.by_person.people,
        visits=row.visits,
        visits_open=row.visits_open,
        km=row.by_person.exposure,
        # A distance that is not known is not 0: its recurrence is left out of the rate with it.
        rate=rate_of_people(row.by_person),
        curve=curve,
        readings=tuple(_reading(table, curve, mark) for mark in MARK_WEEKS),
        watched_weeks=_watched(table),
    )


def _reading(table: LifeTable, curve: SurvivalCurve, weeks: float) -> Reading:
    at_risk = int(table.at_risk()[np.searchsorted(table.time, weeks)])
    return Reading(*survival_at(curve, weeks), at_risk, int(table.events[table.time <= weeks].sum()))


def _watched(table: LifeTable) -> float:
    """How long at least five are watched, or the longest where there are fewer: the curve is drawn so far."""
    if table.n == 0:
        return 0.0
    reached = np.flatnonzero(table.at_risk()[:-1] >= SMALL_CELL)
    return float(table.time[reached[-1]] if reached.size else table.time[-1])


def _compare(groups: Sequence[Group]) -> Comparison:
    inside, outside = groups
    return compare_risks((inside.back or 0, outside.back or 0), (inside.at_risk or 0, outside.at_risk or 0))


_COUNTS = ("people", "answered", "lost", "at_risk", "back", "recurrences")


def _hide(groups: Sequence[Group]) -> list[Group]:
    """Hide small counts, and with the recurrences everything that would give them away."""
    columns = {name: _hidden([getattr(group, name) for group in groups]) for name in _COUNTS}
    # That nearly everybody had a recurrence tells of the few who had none.
    rarer = _hidden([min(group.back or 0, (group.at_risk or 0) - (group.back or 0)) for group in groups])
    hidden = []
    for index, group in enumerate(groups):
        counts: dict[str, Any] = {name: column[index] for name, column in columns.items()} | _reasons_hidden(group)
        if counts["people"] is None or counts["at_risk"] is None:
            counts["left_out"] = (None,) * len(group.left_out)
        if None in (counts["back"], counts["at_risk"], rarer[index]):
            hidden.append(_without_recurrences(group, counts))
            continue
        curve = None if group.curve is None else thinned(group.curve, SMALL_CELL)
        shown = replace(group, **counts, curve=curve, readings=_readable(group.readings))
        hidden.append(replace(shown, km=None, rate=None) if _rate_points_at_few(groups) else shown)
    return hidden


def _reasons_hidden(group: Group) -> dict[str, Any]:
    """Hide the reasons of few people, with enough others; their sum can be worked out."""
    shown = {name: getattr(group, name) for name in ("without_km", "visits_open")}
    small = {name: None if count is not None and 0 < count < SMALL_CELL else count for name, count in shown.items()}
    return {"left_out": hide_small([count or 0 for count in group.left_out]), **small}


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


def _rounded(group: Group) -> Group:
    """Counts to fives, km to two digits, rates of these, and curves in whole percent and weeks."""
    names = (*_COUNTS, "without_km", "visits", "visits_open")
    counts: dict[str, Any] = {name: to_fives(getattr(group, name)) for name in names}
    counts["left_out"] = tuple(to_fives(count) for count in group.left_out)
    km = None if group.km is None else float(f"{group.km:.1e}")
    rate = None if group.rate is None or km is None else _rounded_rate(group.rate, km)
    readings = tuple(
        item
        and replace(item, share=round(item.share, 2), low=round(item.low, 2), high=round(item.high, 2))
        and replace(item, at_risk=to_fives(item.at_risk))
        for item in group.readings
    )
    curve = None if group.curve is None else _rounded_curve(group.curve)
    weeks = float(math.floor(group.watched_weeks))
    return replace(group, **counts, km=km, rate=rate, curve=curve, readings=readings, watched_weeks=weeks)


def _rounded_rate(rate: Rate, km: float) -> Rate:
    """The rate of rounded counts; its limits are at least as far apart as the robust ones, to two digits."""
    rounded = rate_per_1000_km(to_fives(rate.events) or 0, km)
    if rate.method == rounded.method or None in (rate.low, rate.high, rounded.low, rounded.high):
        return rounded
    low, high = (float(f"{limit or 0.0:.1e}") for limit in (rate.low, rate.high))
    return replace(rounded, low=min(rounded.low or 0.0, low), high=max(rounded.high or 0.0, high), method=rate.method)


def _rounded_curve(curve: SurvivalCurve) -> SurvivalCurve:
    shares = {name: np.round(getattr(curve, name), 2) for name in ("survival", "standard_error", "low", "high")}
    counts = {name: SMALL_CELL * np.round(getattr(curve, name) / SMALL_CELL) for name in ("at_risk", "events")}
    return replace(curve, n=to_fives(curve.n) or 0, time=np.ceil(curve.time), **shares, **counts)


def _rounded_test(test: LogRank | None) -> LogRank | None:
    if test is None or test.chi_squared is None or test.p is None:
        return test
    return replace(test, observed=(), expected=(), chi_squared=round(test.chi_squared, 1), p=round(test.p, 2))


def _hidden(column: Sequence[int]) -> tuple[int | None, ...]:
    return hide_small(column, total_shown=len(column) > 1)


def _without_recurrences(group: Group, counts: Mapping[str, Any]) -> Group:
    kept = {**counts, "back": None, "recurrences": None, "without_km": None}
    return replace(group, **kept, km=None, rate=None, curve=None, readings=(), watched_weeks=0.0)
