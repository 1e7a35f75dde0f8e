"""Reads of bench tests: lists with filters and order, one, its history, what its scores say."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import and_

from django.db.models import Count, F, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.expressions import OrderBy
from django.http import Http404
from django.utils import timezone

from core.audit import sentence, who, with_people
from core.models import AuditEntry
from labtests.domain.scores.bands import Band, Placement, place
from labtests.models import BenchTest, Result, ScoringModel, State
from labtests.selectors.scores.methods import bands_of

# How many tests the start page shows of a state.
LONGEST_WAITING = 10

# What tests can be sorted by, and the column of each.
ORDERS = {
    "test": "pk",
    "shoe": "specimen__shoe__name",
    "specimen": "specimen__code",
    "rig": "rig__code",
    "operator": "operator__username",
    "performed": "performed_at",
    "protocol": "protocol__version",
    "state": "state",
    "conditioned": "conditioned_h",
    "temperature": "temperature_c",
    "torque": "torque_15_nm",
    "deflection": "deflection_mm",
    "work": "work_j",
    "energy_return": "energy_return",
    "worn": "worn_km",
    "stability": "newest_stability",
}
ORDER_KEYS = (*ORDERS, *(f"-{key}" for key in ORDERS))


@dataclass(frozen=True, slots=True)
class BenchTestFilter:
    """Which tests are asked for, and in which order; what is left empty asks for all.

    `q` are words of the shoe's brand, name, version or short name; `since` and `until` days, both included;
    temperatures in °C; `order` a key of `ORDERS`, with "-" in front for the largest first.
    """

    state: str = ""
    shoe: str = ""
    rig: str = ""
    specimen: str = ""
    q: str = ""
    operator: str = ""
    protocol: str = ""
    since: dt.date | None = None
    until: dt.date | None = None
    temperature_min: float | None = None
    temperature_max: float | None = None
    order: str = ""

    def as_q(self) -> Q:
        """The filter."""
        given = {
            "state": self.state,
            "specimen__shoe__slug": self.shoe,
            "rig__code": self.rig,
            "specimen__code": self.specimen,
            "operator__username": self.operator,
            "protocol__version": self.protocol,
            "performed_at__gte": self.since and _start_of(self.since),
            "performed_at__lt": self.until and _end_of(self.until),
        }
        limits = {"temperature_c__gte": self.temperature_min, "temperature_c__lte": self.temperature_max}
        wanted: dict[str, object] = {name: value for name, value in given.items() if value}
        wanted |= {name: value for name, value in limits.items() if value is not None}
        return reduce(and_, (_word_of_shoe(word) for word in self.q.split()), Q(**wanted))


def _start_of(day: dt.date) -> dt.datetime:
    return timezone.make_aware(dt.datetime.combine(day, dt.time.min))


def _end_of(day: dt.date) -> dt.datetime | None:
    """The first moment of the next day; None after the last day that there is."""
    return None if day == dt.date.max else _start_of(day + dt.timedelta(days=1))


def _word_of_shoe(word: str) -> Q:
    names = ("brand__name", "name", "version", "slug")
    return Q(*((f"specimen__shoe__{name}__icontains", word) for name in names), _connector=Q.OR)


@dataclass(frozen=True, slots=True)
class HistoryEntry:
    """One step in the life of a record: `actor` is the sign-in name, `who` the name that pages have."""

    id: int
    at: dt.datetime
    actor: str
    action: str
    words: str
    reason: str
    who: str = ""


def bench_test_list(asked: BenchTestFilter | None = None) -> QuerySet[BenchTest]:
    """Tests with what a line of a list needs, newest first where no order is asked for."""
    asked = asked or BenchTestFilter()
    results = Result.objects.select_related("scoring_model__scale").order_by("-scoring_model__created_at")
    return (
        _ordered(BenchTest.objects.filter(asked.as_q()), asked.order)
        .select_related("specimen__shoe__brand", "rig", "protocol", "operator", "reviewed_by", "amends", "successor")
        .select_related("upload__by", "logged_conditioning__entry__chamber")
        .defer("upload__data", "upload__verdict")
        .prefetch_related(Prefetch("results", queryset=results))
    )


def _ordered(tests: QuerySet[BenchTest], order: str) -> QuerySet[BenchTest]:
    """Sort by a key of `ORDERS`; equal ones newest first, and those without a value last either way."""
    if not order:
        return tests
    column = F(ORDERS[order.removeprefix("-")])
    if order.endswith("stability"):
        newest = Result.objects.filter(test=OuterRef("pk")).order_by("-scoring_model__created_at")
        tests = tests.annotate(newest_stability=Subquery(newest.values("stability")[:1]))
    by = OrderBy(column, descending=order.startswith("-"), nulls_last=True)
    return tests.order_by(by, "-performed_at", "-pk")


def bench_test_get(pk: int) -> BenchTest:
    """Find a test, or answer 404."""
    test = bench_test_list().prefetch_related("readings").filter(pk=pk).first()
    if test is None:
        raise Http404
    return test


def bench_tests_chosen(numbers: Sequence[int]) -> list[BenchTest]:
    """The tests of these numbers that there are, in the order of the numbers given."""
    found = {test.pk: test for test in bench_test_list().filter(pk__in=numbers)}
    return [found[number] for number in numbers if number in found]


def result_of(test: BenchTest) -> Result | None:
    """The scores by the newest scoring model that scored the test; None where none could."""
    return next(iter(test.results.all()), None)


class Scales:
    """Places scores on the bands of their models, reading each scale once."""

    def __init__(self) -> None:
        self._bands: dict[int, tuple[Band, ...]] = {}

    def bands(self, model: ScoringModel) -> tuple[Band, ...]:
        if model.scale_id not in self._bands:
            self._bands[model.scale_id] = bands_of(model.scale)
        return self._bands[model.scale_id]

    def place(self, result: Result) -> Placement:
        model = result.scoring_model
        u, df = result.stability_u, result.stability_df
        return place(result.stability, u, self.bands(model), df=df, guard=model.guard_band)


def histories_of(tests: Iterable[BenchTest]) -> dict[int, list[HistoryEntry]]:
    """The steps of each test, oldest first, in one query."""
    histories: dict[int, list[HistoryEntry]] = {test.pk: [] for test in tests}
    entries = AuditEntry.objects.filter(
        object_type=BenchTest._meta.label_lower, object_id__in=[str(pk) for pk in histories]
    )
    for entry in entries.order_by("id"):
        histories[int(entry.object_id)].append(_history_entry(entry))
    return histories


def history(entries: QuerySet[AuditEntry]) -> list[HistoryEntry]:
    """The steps that entries record, oldest first, with the names of people, in one query."""
    return [_history_entry(entry, who(entry)) for entry in with_people(entries).order_by("id")]


def _history_entry(entry: AuditEntry, name: str = "") -> HistoryEntry:
    content = entry.content
    return HistoryEntry(
        id=entry.pk,
        at=entry.at,
        actor=content["actor_name"],
        action=entry.action,
        words=sentence(entry),
        reason=content["reason"],
        who=name,
    )


@dataclass(frozen=True, slots=True)
class StateCounts:
    """How many tests there are in each state."""

    waiting: int
    held: int
    approved: int
    void: int


def counts_by_state() -> StateCounts:
    found = dict(BenchTest.objects.order_by().values_list("state").annotate(n=Count("pk")))
    return StateCounts(
        waiting=found.get(State.ACCEPTED, 0),
        held=found.get(State.HELD, 0),
        approved=found.get(State.APPROVED, 0),
        void=found.get(State.VOID, 0),
    )


def tests_waiting() -> QuerySet[BenchTest]:
    """The tests that have waited longest for a review."""
    return bench_test_list(BenchTestFilter(state=State.ACCEPTED)).order_by("upload__at", "pk")[:LONGEST_WAITING]


def tests_held() -> QuerySet[BenchTest]:
    return bench_test_list(BenchTestFilter(state=State.HELD)).order_by("upload__at", "pk")[:LONGEST_WAITING]
