"""Reads of check shoes: their charts, the tests in doubt, lab days without a check, and the status of every rig."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.db.models import Count, F, Q, QuerySet
from django.db.models.functions import TruncDate
from django.utils import timezone

from labtests.domain.studies.check_chart import CheckChart, check_chart
from labtests.models import BenchTest, CheckAlarm, CheckDuty, CheckQuantity, Rig, Specimen, State, Upload

LOOKED_BACK = dt.timedelta(days=30)


@dataclass(frozen=True, slots=True)
class CheckPoint:
    """One test of a check shoe on its chart; `value` in N·m or mm."""

    test: int
    performed_at: dt.datetime
    operator: str
    value: float
    is_cleared: bool


@dataclass(frozen=True, slots=True)
class CheckSeries:
    """The chart of one quantity of a check shoe, with the tests behind its points."""

    quantity: CheckQuantity
    points: tuple[CheckPoint, ...]
    chart: CheckChart


@dataclass(frozen=True, slots=True)
class Doubt:
    """Which tests of a stopped rig are in doubt: those after `since`, all of them where it is None."""

    rig: Rig
    since: dt.datetime | None

    def holds(self, performed_at: dt.datetime) -> bool:
        return self.since is None or performed_at > self.since


@dataclass(frozen=True, slots=True)
class CheckStatus:
    """The state of a rig and its check shoe on a day."""

    rig: Rig
    duty: CheckDuty | None
    last_check: dt.datetime | None
    days_without: tuple[dt.date, ...]
    is_checked_today: bool


def duty_current(rig: Rig) -> CheckDuty | None:
    return CheckDuty.objects.current().filter(rig=rig).select_related("rig", "specimen", "designated_by").first()


def duty_current_of(specimen: Specimen) -> CheckDuty | None:
    """The duty of a specimen that is a check shoe of a rig now."""
    return CheckDuty.objects.current().filter(specimen=specimen).select_related("rig", "specimen").first()


def duty_list(rig: Rig) -> QuerySet[CheckDuty]:
    """Every check shoe that the rig has had, newest first."""
    return CheckDuty.objects.filter(rig=rig).select_related("rig", "specimen", "designated_by", "retired_by")


def duties_in(upload: Upload, leaving_out: BenchTest | None = None) -> list[CheckDuty]:
    """Check shoes on duty that an upload has tests of, or that the test which it replaces is of; one query."""
    brought = Q(specimen__tests__upload=upload, specimen__tests__rig=F("rig"))
    if leaving_out is not None:
        brought |= Q(specimen=leaving_out.specimen_id, rig=leaving_out.rig_id)
    duties = CheckDuty.objects.current().filter(brought).select_related("rig", "specimen")
    return list(duties.order_by("rig_id").distinct())


def duties_of(test: BenchTest) -> list[CheckDuty]:
    """Check shoes on duty whose chart a test is on."""
    duties = CheckDuty.objects.current().filter(specimen=test.specimen_id, rig=test.rig_id)
    return list(duties.select_related("rig", "specimen"))


def check_tests(duty: CheckDuty) -> QuerySet[BenchTest]:
    """The tests on a chart: within the protocol, neither held, void nor only on record, while the shoe was on duty.

    A successor is not on it while the approved test that it is to replace still counts.
    """
    start = timezone.make_aware(dt.datetime.combine(duty.since, dt.time.min))
    tests = BenchTest.objects.filter(
        rig=duty.rig_id,
        specimen=duty.specimen_id,
        state__in=[State.ACCEPTED, State.APPROVED],
        is_released=False,
        performed_at__gte=start,
    )
    tests = tests.exclude(amends__state=State.APPROVED)
    return tests if duty.retired_at is None else tests.filter(performed_at__lt=duty.retired_at)


def check_series(duty: CheckDuty, *, without: BenchTest | None = None) -> tuple[CheckSeries, ...]:
    """Chart each quantity of a check shoe, in two queries; `without` leaves out a test that is about to go."""
    tests = check_tests(duty).order_by("performed_at", "pk")
    if without is not None:
        tests = tests.exclude(pk=without.pk)
    rows = list(tests.values_list("pk", "performed_at", "operator__username", *CheckQuantity.values))
    cleared = _cleared_points(duty)
    return tuple(
        _series(quantity, [(test, at, operator, values[place]) for test, at, operator, *values in rows], cleared)
        for place, quantity in enumerate(CheckQuantity)
    )


def _cleared_points(duty: CheckDuty) -> set[tuple[str, int]]:
    cleared = CheckAlarm.objects.filter(duty=duty, cleared_at__isnull=False).values_list("quantity", "points")
    return {(quantity, test) for quantity, tests in cleared for test in tests}


def cleared_tests(duty: CheckDuty) -> set[int]:
    """Tests that were out of control and that a reviewer cleared: they say nothing of an ordinary day."""
    return {test for _, test in _cleared_points(duty)}


def _series(
    quantity: CheckQuantity,
    rows: Iterable[tuple[int, dt.datetime, str, float | None]],
    cleared: Collection[tuple[str, int]],
) -> CheckSeries:
    points = tuple(
        CheckPoint(test, performed_at, operator, value, (quantity.value, test) in cleared)
        for test, performed_at, operator, value in rows
        if value is not None
    )
    excluded = [position for position, point in enumerate(points) if point.is_cleared]
    return CheckSeries(quantity, points, check_chart([point.value for point in points], excluded=excluded))


def alarms_of(duty: CheckDuty) -> QuerySet[CheckAlarm]:
    return CheckAlarm.objects.filter(duty=duty).select_related("test", "cleared_by")


def doubts_of(rigs: Iterable[Rig]) -> dict[int, Doubt]:
    """What the stop of each stopped rig puts in doubt.

    A rig that its check shoe stopped: the tests after its last check in control. One that a person stopped: those after
    the time that they gave, or all tests where they gave none. What both say counts together.
    """
    stopped = {rig.pk: rig for rig in rigs if rig.is_stopped}
    doubts = {pk: Doubt(rig, rig.stopped_since) for pk, rig in stopped.items()}
    if not stopped:
        return doubts
    raised: dict[int, list[dt.datetime | None]] = {}
    by_hand = set(stopped)
    alarms = CheckAlarm.objects.open().filter(duty__rig__in=stopped)
    for rig, since, stopped_rig in alarms.values_list("duty__rig_id", "doubted_since", "stopped_rig"):
        raised.setdefault(rig, []).append(since)
        if stopped_rig:
            by_hand.discard(rig)
    for pk, doubted in raised.items():
        times = [*doubted, stopped[pk].stopped_since] if pk in by_hand else doubted
        known = [since for since in times if since is not None]
        doubts[pk] = Doubt(stopped[pk], min(known) if len(known) == len(times) else None)
    return doubts


def tests_in_doubt(doubt: Doubt) -> QuerySet[BenchTest]:
    """The tests that may not be published while the rig is stopped, its check shoe's own left out."""
    tests = BenchTest.objects.filter(rig=doubt.rig).exclude(state=State.VOID)
    tests = tests.exclude(specimen__check_duties__rig=doubt.rig)
    return tests if doubt.since is None else tests.filter(performed_at__gt=doubt.since)


def statuses(rigs: Iterable[Rig], today: dt.date) -> list[CheckStatus]:
    """The status of each rig's check shoe: what was tested unchecked in the last 30 days. Three queries in all."""
    listed = list(rigs)
    duties = {duty.rig_id: duty for duty in CheckDuty.objects.current().select_related("specimen", "rig")}
    tested, checked = _lab_days(listed, today), _check_days(duties.values())
    return [_standing(rig, duties.get(rig.pk), (tested, checked), today) for rig in listed]


def _lab_days(rigs: list[Rig], today: dt.date) -> dict[int, dict[dt.date, set[int]]]:
    """For each rig and day of the last 30 the specimens tested on it."""
    start = timezone.make_aware(dt.datetime.combine(today - LOOKED_BACK, dt.time.min))
    rows = (
        BenchTest.objects.filter(rig__in=rigs, performed_at__gte=start)
        .exclude(state=State.VOID)
        .annotate(day=TruncDate("performed_at"))
        .order_by()
        .values_list("rig_id", "day", "specimen_id")
        .annotate(n=Count("pk"))
    )
    found: dict[int, dict[dt.date, set[int]]] = {}
    for rig, day, specimen, _ in rows:
        found.setdefault(rig, {}).setdefault(day, set()).add(specimen)
    return found


def _check_days(duties: Iterable[CheckDuty]) -> dict[int, list[dt.datetime]]:
    """For each rig when its check shoe was tested."""
    listed = list(duties)
    if not listed:
        return {}
    pairs = Q()
    for duty in listed:
        pairs |= Q(rig=duty.rig_id, specimen=duty.specimen_id)
    rows = BenchTest.objects.filter(pairs, state__in=[State.ACCEPTED, State.APPROVED], is_released=False)
    found: dict[int, list[dt.datetime]] = {}
    for rig, performed_at in rows.order_by("performed_at").values_list("rig_id", "performed_at"):
        found.setdefault(rig, []).append(performed_at)
    return found


def _standing(
    rig: Rig,
    duty: CheckDuty | None,
    days: tuple[dict[int, dict[dt.date, set[int]]], dict[int, list[dt.datetime]]],
    today: dt.date,
) -> CheckStatus:
    tested, checks = days[0].get(rig.pk, {}), days[1].get(rig.pk, [])
    check_days = {timezone.localtime(moment).date() for moment in checks}
    own = {duty.specimen_id} if duty else set()
    without = sorted(day for day, specimens in tested.items() if specimens - own and day not in check_days)
    return CheckStatus(rig, duty, checks[-1] if checks else None, tuple(without), today in check_days)
