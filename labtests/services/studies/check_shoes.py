"""Check shoes: designated, retired, charted; what is out of control stops publishing from the rig.

The chart is judged wherever it can change: a test comes in by any road, is put on hold, voided or replaced, a check
shoe is designated, a rig is cleared. Locks are taken in one order everywhere, so that nobody waits in a ring: test,
uploads, rig, audit trail. So the chart is judged before the trail is written, and what it changed is returned.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from django.db import transaction
from django.utils import timezone

from core import audit
from core.audit import Change
from core.domain.errors import DomainError, required_reason
from core.domain.figures import figure
from core.models import User
from core.web import display
from labtests.domain.studies.control_chart import Breach, RunRule
from labtests.models import BenchTest, CheckAlarm, CheckDuty, CheckQuantity, Rig, Specimen, SpecimenKind, State, Upload
from labtests.selectors.studies.check_shoes import CheckSeries, check_series, duties_in, duties_of
from labtests.services.rights import needs

UNITS = {CheckQuantity.TORQUE: "N·m", CheckQuantity.DEFLECTION: "mm"}


def rig_locked(rig: Rig) -> Rig:
    # Without FOR UPDATE's full strength: uploads only refer to the rig and need not wait.
    return Rig.objects.select_for_update(no_key=True).get(pk=rig.pk)


@needs("labtests.check:write")
@transaction.atomic
def check_shoe_designate(
    *, actor: User, rig: Rig, specimen: Specimen, since: dt.date, reason: str, at: dt.datetime | None = None
) -> CheckDuty:
    """Make a specimen the check shoe of a rig. Its tests on the rig from the day `since` on are charted at once.

    A sample becomes a check shoe for good: none of its tests counts for a shoe from then on.

    Raises
    ------
    DomainError
        409 while another is on duty, for a specimen that was disposed of, and for a sample with earlier tests that
        count for its shoe; 400 without a reason or for a day to come.
    """
    because, moment = required_reason(reason), at or timezone.now()
    rig = rig_locked(rig)
    on_duty = CheckDuty.objects.current().filter(rig=rig).select_related("specimen").first()
    if on_duty is not None:
        raise DomainError(
            f"Rig {rig.code} has the check shoe {on_duty.specimen.code}; retire that one first.",
            code="on_duty",
            status=409,
        )
    if since > timezone.localtime(moment).date():
        words = f"The day must not be in the future, got {since}."
        raise DomainError(words, code="bad_day", fields={"since": [words]})
    specimen, converted = _as_check_shoe(specimen, since, because)
    duty = CheckDuty(rig=rig, specimen=specimen, since=since, designated_by=actor, designated_at=moment, reason=because)
    duty.save()
    raised = _judge(duty, moment)
    audit.record_many(converted, actor=actor)
    audit.record(actor=actor, action="labtests.check_duty.designated", subject=duty, reason=because)
    audit.record_many(raised, actor=None)
    return duty


def _as_check_shoe(specimen: Specimen, since: dt.date, because: str) -> tuple[Specimen, list[Change]]:
    """The specimen as a check shoe, and what the trail will say where it was a sample."""
    specimen = Specimen.objects.select_for_update(of=("self",)).select_related("shoe").get(pk=specimen.pk)
    if specimen.disposed_on is not None:
        raise _not_as_check(specimen, f"was disposed of on {specimen.disposed_on}", "disposed")
    if specimen.kind == SpecimenKind.CHECK:
        return specimen, []
    counting = BenchTest.objects.publishable().filter(specimen=specimen, performed_at__date__lt=since).first()
    if counting is not None:
        counts = f"is a sample: its test {counting.pk} counts for {specimen.shoe.title}"
        raise _not_as_check(specimen, counts, "is_sample")
    before = audit.snapshot(specimen)
    specimen.kind = SpecimenKind.CHECK
    specimen.save(update_fields=["kind"])
    return specimen, [Change("labtests.specimen.made_check_shoe", specimen, before, because)]


def _not_as_check(specimen: Specimen, why: str, code: str) -> DomainError:
    message = f"Specimen {specimen.code} {why}. Receive a check shoe of its own and designate that."
    return DomainError(message, code=code, status=409, fields={"specimen": [message]})


@needs("labtests.check:retire")
@transaction.atomic
def check_shoe_retire(*, actor: User, duty: CheckDuty, reason: str, at: dt.datetime | None = None) -> CheckDuty:
    """Take a check shoe off duty: worn out, lost, or drifting itself. A stop that it caused stays."""
    because = required_reason(reason)
    rig_locked(duty.rig)
    duty = CheckDuty.objects.select_related("rig", "specimen").get(pk=duty.pk)
    if duty.retired_at is not None:
        raise DomainError(f"The {duty} is already retired.", code="retired", status=409)
    before = audit.snapshot(duty)
    duty.retired_by, duty.retired_at, duty.retired_because = actor, at or timezone.now(), because
    duty.save(update_fields=["retired_by", "retired_at", "retired_because"])
    audit.record(actor=actor, action="labtests.check_duty.retired", subject=duty, before=before, reason=because)
    return duty


def checks_judge_upload(upload: Upload, *, leaving_out: BenchTest | None = None) -> list[Change]:
    """Judge the charts that an upload adds to; one query where it holds no check shoe, however many tests it has.

    The successor of an approved test is on no chart until a reviewer accepts it, and is judged then.
    """
    if leaving_out is not None and leaving_out.state == State.APPROVED:
        return []
    return _judge_all(duties_in(upload, leaving_out), leaving_out, upload.at)


def checks_judge_without(test: BenchTest) -> list[Change]:
    """Judge the chart that a test is about to leave."""
    return _judge_all(duties_of(test), test, timezone.now())


def checks_judge_with(test: BenchTest) -> list[Change]:
    """Judge the chart that a test has joined, as it waits for review again."""
    return _judge_all(duties_of(test), None, timezone.now())


def charts_judge(tests: Sequence[BenchTest]) -> list[Change]:
    """Judge the charts that tests of one rig have just left."""
    on_duty = CheckDuty.objects.current().select_related("rig", "specimen")
    of_tests = on_duty.filter(
        rig__in={test.rig_id for test in tests}, specimen__in={test.specimen_id for test in tests}
    )
    return _judge_all(of_tests, None, timezone.now())


def _judge_all(duties: Iterable[CheckDuty], without: BenchTest | None, at: dt.datetime) -> list[Change]:
    return [change for duty in duties for change in _judge(duty, at, without=without)]


def _judge(duty: CheckDuty, at: dt.datetime, *, without: BenchTest | None = None) -> list[Change]:
    """Raise an alarm for every pattern not reported yet, and stop the rig. Returns entries for the trail."""
    rig = rig_locked(duty.rig)
    reported = _reported(duty)
    fresh = [
        (series, breaches) for series in check_series(duty, without=without) for breaches in _patterns(series, reported)
    ]
    if not fresh:
        return []
    by_check = not rig.is_stopped or CheckAlarm.objects.open().filter(duty__rig=rig, stopped_rig=True).exists()
    alarms = [_alarm(duty, series, breaches, at=at, stopped_rig=by_check) for series, breaches in fresh]
    CheckAlarm.objects.bulk_create(alarms)
    raised = [Change("labtests.check_alarm.raised", alarm, reason=alarm.words) for alarm in alarms]
    return raised if rig.is_stopped else [*raised, _stopped(rig, _because(alarms))]


def _because(alarms: list[CheckAlarm]) -> str:
    """The plainest alarm in full; the others are on the chart's page."""
    first = min(alarms, key=lambda alarm: list(RunRule).index(RunRule(alarm.rule)))
    more = f" Its chart shows {display.count(len(alarms) - 1, 'more pattern')}." if len(alarms) > 1 else ""
    return first.words + more


def _reported(duty: CheckDuty) -> set[tuple[str, str, int]]:
    """Quantity, rule and test of everything that an open alarm of the check shoe reports."""
    open_alarms = CheckAlarm.objects.open().filter(duty=duty).values_list("quantity", "rule", "points")
    return {(quantity, rule, test) for quantity, rule, tests in open_alarms for test in tests}


def _patterns(series: CheckSeries, reported: set[tuple[str, str, int]]) -> list[list[Breach]]:
    """Breaches that are new, those of one rule together."""
    by_rule: dict[str, list[Breach]] = {}
    for breach in series.chart.breaches:
        key = (series.quantity.value, breach.rule.value, series.points[breach.index].test)
        if key not in reported:
            by_rule.setdefault(breach.rule, []).append(breach)
    return list(by_rule.values())


def _alarm(
    duty: CheckDuty, series: CheckSeries, breaches: list[Breach], *, at: dt.datetime, stopped_rig: bool
) -> CheckAlarm:
    places = sorted({place for breach in breaches for place in breach.points})
    before = [point for point in series.points[: places[0]] if not point.is_cleared]
    last = breaches[-1]
    point = series.points[last.index]
    words = (
        f"Check shoe {duty.specimen.code}, {series.quantity.label} {figure(point.value, 4)} {UNITS[series.quantity]} "
        f"at test {point.test} of {display.day(point.performed_at)}: {last.words}."
    )
    return CheckAlarm(
        duty=duty,
        test_id=point.test,
        quantity=series.quantity,
        rule=last.rule.value,
        words=words,
        points=[series.points[place].test for place in places],
        doubted_since=before[-1].performed_at if before else None,
        stopped_rig=stopped_rig,
        raised_at=at,
    )


def _stopped(rig: Rig, because: str) -> Change:
    before = audit.snapshot(rig)
    rig.is_stopped, rig.stopped_because = True, because
    rig.save(update_fields=["is_stopped", "stopped_because"])
    return Change("labtests.rig.stopped", rig, before, reason=because)


def alarms_clear(rig: Rig, *, actor: User, reason: str, at: dt.datetime) -> list[Change]:
    """Clear the open alarms of a locked rig: their points leave limits and runs."""
    alarms = list(CheckAlarm.objects.open().filter(duty__rig=rig).order_by("pk"))
    changes = [Change("labtests.check_alarm.cleared", alarm, audit.snapshot(alarm), reason) for alarm in alarms]
    for alarm in alarms:
        alarm.cleared_by, alarm.cleared_at, alarm.cleared_because = actor, at, reason
    CheckAlarm.objects.bulk_update(alarms, ["cleared_by", "cleared_at", "cleared_because"])
    return changes


def rig_judge_again(rig: Rig) -> list[Change]:
    """Judge the chart of a rig that was cleared just now: what is still out of control stops it again."""
    duty = CheckDuty.objects.current().filter(rig=rig).select_related("rig", "specimen").first()
    return [] if duty is None else _judge(duty, timezone.now())
