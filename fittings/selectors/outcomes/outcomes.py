"""What became of the people fitted, by whether they chose inside their target, by band or by store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from django.utils import timezone

from catalogue.selectors import BandRow, band_list
from core.accounts.selectors import stores_of
from core.gate import row_scope
from core.models import Store, User
from fittings.domain.disclosure.hiding import SMALL_CELL, hide_small
from fittings.domain.fitting.looks import MOVEMENTS
from fittings.domain.outcomes.clusters import NOBODY, corrected_p, design_effect
from fittings.domain.outcomes.onset import OnsetTest, onset_test
from fittings.domain.outcomes.survival import LogRank, log_rank_of
from fittings.models import LeftOut
from fittings.selectors.outcomes.courses import MARK_WEEKS, NOT_LOOKED, Counts, OutcomeFilter, PeopleCount, counts_of
from fittings.selectors.outcomes.noisy_counts import released_counts
from fittings.selectors.outcomes.outcome_groups import (
    Comparison,
    Group,
    Loss,
    Reading,
    compare,
    group_of,
    life_table_of,
    onsets_of,
)
from fittings.selectors.outcomes.released_people import in_quarters, released_until

INSIDE, OUTSIDE = "In the target", "Outside the target"


@dataclass(frozen=True, slots=True)
class Outcomes:
    """Outcomes of some stores together; `hides` says that small counts are hidden and all counts have noise.

    `compares` says that the groups are those in and outside the target; `comparison` is None then where it is hidden.
    `test` compares the groups by the follow-ups between which recurrences came, `day_test` by the day of the report;
    both are divided by the largest design effect by person of the groups.
    """

    stores: tuple[str, ...]
    groups: tuple[Group, ...]
    total: Group
    comparison: Comparison | None
    test: OnsetTest | None
    day_test: LogRank | None
    hides: bool
    compares: bool = True


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
    own = set(user.store_ids())
    # Nobody in a training store counts; its own staff see the page with nothing in it.
    open_to = [item for item in stores_of(user) if item.pk in own or not item.is_training]
    seen = tuple(item for item in open_to if store is None or item.pk == store.pk)
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
    """Outcomes of a scope (the user's own where left out): three to five queries, however many people.

    Parameters
    ----------
    wanted : which of the people; everybody of the scope where left out
    by : "target", "band", "store" or "movement"
    on : the day on which what is overdue counts as lost; today where left out
    bands : of the scale, where they were read already
    """
    scope = scope or scope_of(user)
    count = released_counts if scope.hides else counts_of
    with scope.opened():
        counts = count(wanted or scope.filter(), by, on=on or timezone.localdate())
    return finish(counts, group_names(by, scope, bands), scope, compares=by == "target")


def finish(counts: Counts, names: Mapping[Any, str], scope: Scope, *, compares: bool) -> Outcomes:
    """Everything that is shown, from people and complaints added up."""
    people = {row.key: row for row in counts.people}
    split = [(name, key) for key, name in names.items() if key in people or compares]
    parts = [[row for row in counts.days if row.key == key] for _, key in split]
    groups = [group_of(name, _people(people, key), rows) for (name, key), rows in zip(split, parts, strict=True)]
    total = group_of("All", _people(people, None), counts.days)
    comparison = compare(*groups) if compares else None
    several = len(split) > 1
    effect = max((design_effect(_people(people, key).by_person) for _, key in split), default=1.0)
    test = _by_people(onset_test([onsets_of(rows) for rows in parts]), effect) if several else None
    day_test = _by_people(log_rank_of([life_table_of(rows) for rows in parts]), effect) if several else None
    if scope.hides:
        groups, total = _hide(groups), _hide([total])[0]
        comparison = compare(*groups) if comparison else None
        if any(group.recurrences is None for group in groups):
            comparison, test, day_test = None, None, None
    return Outcomes(scope.names(), tuple(groups), total, comparison, test, day_test, scope.hides, compares=compares)


Test = TypeVar("Test", OnsetTest, LogRank)


def _by_people(test: Test, effect: float) -> Test:
    """The test with complaints of one person taken as such."""
    if test.chi_squared is None or effect == 1.0:
        return test
    chi_squared, p = corrected_p(test.chi_squared, test.degrees, effect)
    return replace(test, chi_squared=chi_squared, p=p)


def _people(counted: Mapping[Any, PeopleCount], key: Any) -> PeopleCount:
    return counted.get(key) or PeopleCount(key, 0, 0, 0, 0, 0, 0, (0,) * len(LeftOut), 0, 0, NOBODY)


def group_names(by: str, scope: Scope, bands: Sequence[BandRow] | None = None) -> dict[Any, str]:
    if by == "band":
        return {band.order: band.name for band in bands or band_list()}
    if by == "movement":
        return {word: said.capitalize() for word, said in MOVEMENTS.items()} | {NOT_LOOKED: "Not looked at"}
    if by == "store":
        return {store.pk: store.name for store in scope.stores}
    return {True: INSIDE, False: OUTSIDE}


_COUNTS = ("people", "answered", "lost", "at_risk", "back", "recurrences")


def _hide(groups: Sequence[Group]) -> list[Group]:
    """Hide small counts, and with the recurrences everything that would give them away."""
    columns = {name: _hidden([getattr(group, name) for group in groups]) for name in _COUNTS}
    # That nearly everybody had a recurrence reveals the few who had none.
    rarer = _hidden([min(group.back or 0, (group.at_risk or 0) - (group.back or 0)) for group in groups])
    hidden = []
    for index, group in enumerate(groups):
        counts: dict[str, Any] = {name: column[index] for name, column in columns.items()} | _reasons_hidden(group)
        if counts["people"] is None or counts["at_risk"] is None:
            counts |= {"left_out": (None,) * len(group.left_out), "visits": None, "visits_open": None}
        if None in (counts["back"], counts["at_risk"], rarer[index]):
            hidden.append(_without_recurrences(group, counts))
            continue
        readings = _readable(group.readings)
        loss = _loss_shown(group.loss, readings, lost=counts["lost"])
        shown = replace(group, **counts, readings=readings, loss=loss)
        hidden.append(replace(shown, km=None, rate=None, by_person=None) if _rate_points_at_few(groups) else shown)
    return hidden


def _reasons_hidden(group: Group) -> dict[str, Any]:
    """Hide the reasons of few people, with enough others; their sum can be worked out."""
    shown = {name: getattr(group, name) for name in ("without_km", "visits", "visits_open")}
    small = {name: None if count is not None and 0 < count < SMALL_CELL else count for name, count in shown.items()}
    return {"left_out": hide_small([count or 0 for count in group.left_out]), **small}


def _rate_points_at_few(groups: Sequence[Group]) -> bool:
    """Whether a rate, set against the recurrences, gives away a small count of people without a distance."""
    with_km = [group.rate.events if group.rate else 0 for group in groups]
    without = [(group.recurrences or 0) - events for group, events in zip(groups, with_km, strict=True)]
    return any(0 < count < SMALL_CELL for count in without) or (any(without) and min(with_km) < SMALL_CELL)


def _readable(readings: Sequence[Reading | None]) -> tuple[Reading | None, ...]:
    """Only readings with at least five recurrences since the one before; fewer than five still watched are hidden."""
    shown: list[Reading | None] = []
    events = 0
    for reading in readings:
        enough = reading is not None and reading.events - events >= SMALL_CELL
        shown.append(reading if enough else None)
        events = reading.events if reading is not None and enough else events
    return tuple(
        item if item is None or (item.at_risk or 0) >= SMALL_CELL else replace(item, at_risk=None) for item in shown
    )


def _loss_shown(loss: Loss | None, readings: Sequence[Reading | None], *, lost: int | None) -> Loss | None:
    """Only where the main figure of that follow-up is shown, and neither the lost nor those still watched are few."""
    if loss is None or lost is None or (loss.lost or 0) < SMALL_CELL:
        return None
    main = readings[MARK_WEEKS.index(loss.weeks)]
    return loss if main is not None and main.at_risk is not None else None


def _hidden(column: Sequence[int]) -> tuple[int | None, ...]:
    return hide_small(column, total_shown=len(column) > 1)


def _without_recurrences(group: Group, counts: Mapping[str, Any]) -> Group:
    kept = {**counts, "back": None, "recurrences": None, "without_km": None}
    return replace(group, **kept, km=None, rate=None, by_person=None, begun=None, readings=(), loss=None)
