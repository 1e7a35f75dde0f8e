"""Reads of the conditioning log: its entries, who relies on them, the chambers, and the queue of the bench day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, Prefetch, Q, QuerySet
from django.http import Http404

from labtests.domain.conditions.conditioning import HOUR, MOST_OUT_H, conditioning_from_log, ready_at
from labtests.models import BenchTest, Chamber, ConditioningEntry, LoggedConditioning, State
from labtests.selectors.bench_tests import BenchTestFilter, bench_test_list
from labtests.selectors.scores.methods import protocol_current

# How long a specimen that was taken out and not tested is still shown.
SHOWN_OUT = dt.timedelta(days=1)
HELD_SHOWN = 10


@dataclass(frozen=True, slots=True)
class LogAsked:
    """Which entries are asked for; empty words ask for all."""

    chamber: str = ""
    specimen: str = ""
    shoe: str = ""
    state: str = ""


def chamber_list() -> QuerySet[Chamber]:
    """Chambers with how many specimens lie in each."""
    in_chamber = Q(entries__out_at__isnull=True, entries__struck_at__isnull=True, entries__isnull=False)
    return Chamber.objects.annotate(n_in_chamber=Count("entries", filter=in_chamber)).order_by("code")


def entry_list(asked: LogAsked | None = None) -> QuerySet[ConditioningEntry]:
    """Entries with what a line of a list needs, newest first."""
    asked = asked or LogAsked()
    given = {
        "chamber__code": asked.chamber,
        "specimen__code": asked.specimen,
        "specimen__shoe__slug": asked.shoe,
    }
    states = {
        "in_chamber": Q(out_at__isnull=True, struck_at__isnull=True),
        "over": Q(out_at__isnull=False, struck_at__isnull=True),
        "struck": Q(struck_at__isnull=False),
    }
    return ConditioningEntry.objects.filter(
        states.get(asked.state, Q()), **{name: value for name, value in given.items() if value}
    ).select_related("specimen__shoe__brand", "chamber", "put_in_by", "taken_out_by", "struck_by")


def entry_get(pk: int) -> ConditioningEntry:
    """Find an entry, or answer 404."""
    entry = entry_list().filter(pk=pk).first()
    if entry is None:
        raise Http404
    return entry


def relying_on(entry: ConditioningEntry) -> Q:
    """Which tests took hours from an entry: as the last stay that counts, or as one before it."""
    return Q(
        logged_conditioning__entry__specimen=entry.specimen_id,
        logged_conditioning__since__lte=entry.in_at,
        logged_conditioning__entry__in_at__gte=entry.in_at,
    )


def tests_relying_on(entry: ConditioningEntry) -> QuerySet[BenchTest]:
    return bench_test_list().filter(relying_on(entry))


def logged_of(test: BenchTest) -> LoggedConditioning | None:
    """Where a test's hours came from; None where they are the file's claim."""
    found: LoggedConditioning | None = getattr(test, "logged_conditioning", None)
    return found


def wrote_hours(test: BenchTest) -> set[int | None]:
    """Who put in and took out the specimen for the stays that a test's hours come from; nobody where it has none."""
    logged = logged_of(test)
    if logged is None:
        return set()
    stays = ConditioningEntry.objects.valid().filter(
        specimen=test.specimen_id, in_at__gte=logged.since, in_at__lt=test.performed_at
    )
    return {person for stay in stays.values_list("put_in_by", "taken_out_by") for person in stay}


@dataclass(frozen=True, slots=True, eq=False)
class InChamber:
    """A specimen in a chamber: the hours that count, when it has all of them, and a test made since."""

    entry: ConditioningEntry
    hours: float
    ready_at: dt.datetime
    is_ready: bool
    tested: int | None


@dataclass(frozen=True, slots=True, eq=False)
class ChamberDay:
    """A chamber with what is in it, first ready first."""

    chamber: Chamber
    conditioning: tuple[InChamber, ...]
    ready: tuple[InChamber, ...]


@dataclass(frozen=True, slots=True, eq=False)
class TakenOut:
    """A specimen that waits on the bench; past `test_by` it has to be conditioned again."""

    entry: ConditioningEntry
    test_by: dt.datetime
    is_late: bool


@dataclass(frozen=True, slots=True, eq=False)
class BenchDay:
    """The lab's queue."""

    required_h: float
    chambers: tuple[ChamberDay, ...]
    taken_out: tuple[TakenOut, ...]
    held: QuerySet[BenchTest]
    n_held: int

    @property
    def n_conditioning(self) -> int:
        return sum(len(day.conditioning) for day in self.chambers)

    @property
    def n_ready(self) -> int:
        return sum(len(day.ready) for day in self.chambers)


def bench_day(at: dt.datetime) -> BenchDay:
    """What is in which chamber, what is ready or waits on the bench, and what is held, in a fixed number of queries."""
    required_h = protocol_current().to_domain().conditioned_h.low or 0.0
    recent = entry_list().filter(struck_at__isnull=True)
    recent = recent.filter(Q(out_at__isnull=True) | Q(out_at__gte=at - SHOWN_OUT)).order_by("in_at", "pk")
    entries = list(recent.prefetch_related(Prefetch("specimen__conditioning", queryset=_stays())))
    tested = _tested_since(entries)
    in_chamber = [_in_chamber(entry, at, required_h, tested.get(entry.pk)) for entry in entries if entry.out_at is None]
    newest = {entry.specimen_id: entry.pk for entry in entries}
    waiting = [entry for entry in entries if entry.out_at and newest[entry.specimen_id] == entry.pk]
    held = bench_test_list(BenchTestFilter(state=State.HELD)).order_by("upload__at", "pk")
    return BenchDay(
        required_h=required_h,
        chambers=tuple(_chamber_day(chamber, in_chamber) for chamber in Chamber.objects.all()),
        taken_out=tuple(_taken_out(entry, at) for entry in waiting if entry.pk not in tested),
        held=held[:HELD_SHOWN],
        n_held=held.count(),
    )


def _stays() -> QuerySet[ConditioningEntry]:
    return ConditioningEntry.objects.valid().select_related("chamber")


def _tested_since(entries: Sequence[ConditioningEntry]) -> dict[int, int]:
    """For each entry the newest test of its specimen since it was put in."""
    if not entries:
        return {}
    tests = BenchTest.objects.filter(
        specimen__in={entry.specimen_id for entry in entries},
        performed_at__gt=min(entry.in_at for entry in entries),
    )
    tests = tests.exclude(state=State.VOID).order_by("performed_at", "pk")
    newest = {specimen: (pk, at) for pk, specimen, at in tests.values_list("pk", "specimen", "performed_at")}
    return {
        entry.pk: newest[entry.specimen_id][0]
        for entry in entries
        if entry.specimen_id in newest and newest[entry.specimen_id][1] > entry.in_at
    }


def _in_chamber(entry: ConditioningEntry, at: dt.datetime, required_h: float, tested: int | None) -> InChamber:
    stays = [stay.to_domain() for stay in entry.specimen.conditioning.all()]
    logged = conditioning_from_log(stays, at=at, window_h=0.0)
    # A clock that is a little ahead may have put it in some minutes from now.
    ready = ready_at(logged.stays if logged else [entry.to_domain()], required_h=required_h)
    return InChamber(entry, logged.hours if logged else 0.0, ready, ready <= at, tested)


def _chamber_day(chamber: Chamber, in_chamber: list[InChamber]) -> ChamberDay:
    here = sorted((one for one in in_chamber if one.entry.chamber_id == chamber.pk), key=lambda one: one.ready_at)
    return ChamberDay(
        chamber,
        conditioning=tuple(one for one in here if not one.is_ready),
        ready=tuple(one for one in here if one.is_ready),
    )


def _taken_out(entry: ConditioningEntry, at: dt.datetime) -> TakenOut:
    test_by = (entry.out_at or at) + MOST_OUT_H * HOUR
    return TakenOut(entry, test_by, test_by < at)
