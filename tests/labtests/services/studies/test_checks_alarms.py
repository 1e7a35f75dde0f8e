"""A check shoe out of control stops publishing from its rig, whatever the road its test came by."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import pytest

from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.models import AuditEntry
from labtests import services
from labtests.models import CheckAlarm, CheckDuty, Specimen
from labtests.selectors.studies.check_shoes import check_series
from tests.labtests.bench_text import READINGS_ROW, bench_bytes, curve_rows, readings_bytes
from tests.shared import shared

# Ten readings about 5.1 N·m, in control by every rule.
STEADY = (5.10, 5.13, 5.08, 5.11, 5.07, 5.12, 5.09, 5.13, 5.10, 5.08)
MARCH = dt.date(2026, 2, 1)


def rows_of(torques, *, specimen="CHK-1", start=0, deflections=None):
    """Rows of a readings file: a check a day from 1 February 2026 on, one repeat each."""
    template = READINGS_ROW.replace("F2-01", specimen)
    rows = []
    for number, torque in enumerate(torques, start=start):
        moment = (dt.datetime(2026, 2, 1, 8, tzinfo=dt.UTC) + dt.timedelta(days=number)).isoformat()
        deflection = 5.9 if deflections is None else deflections[number - start]
        wobble = 0.01 * (-1) ** number
        rows.append(template.replace("2026-03-04T10:15:00+00:00", moment).format(1, torque, deflection + wobble))
    return rows


def one_test_a_file(torques, **given):
    """Checks as files of their own: a readings file takes one test a specimen."""
    return [readings_bytes([row]) for row in rows_of(torques, **given)]


def bench_check(torque, *, day=11, hour=8, **header):
    # On either side of the centre by turns: a run exactly on it would hang on rounding.
    deflection = 5.9 + 0.002 * (-1) ** day
    rows = curve_rows([(torque + d, deflection + d) for d in (-0.01, 0.0, 0.01)])
    performed = f"2026-02-{day:02d}T{hour:02d}:00:00+00:00"
    return bench_bytes(rows, specimen="CHK-1", **{"performed": performed, **header})


def zipped(files):
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for number, data in enumerate(files):
            archive.writestr(f"{number}.csv", data)
    return buffer.getvalue()


@shared
def charted(lab):
    """The lab with a check shoe of ten steady points."""
    lab.upload(zipped(one_test_a_file(STEADY)), name="checks.zip")
    services.check_shoe_designate(
        actor=lab.technician, rig=lab.rig, specimen=Specimen.objects.get(), since=MARCH, reason="stable foam"
    )
    lab.rig.refresh_from_db()
    assert not lab.rig.is_stopped
    return lab


def stopped(lab):
    lab.rig.refresh_from_db()
    return lab.rig.is_stopped


def test_point_beyond_the_limit_stops_the_rig_naming_rule_and_value(charted):
    upload = charted.upload(bench_check(5.2))
    assert stopped(charted)
    because = charted.rig.stopped_because
    assert "CHK-1" in because
    assert "torque 5.2 N·m" in because
    assert "is above the upper limit" in because
    alarm = CheckAlarm.objects.get()
    assert (alarm.test, alarm.rule, alarm.stopped_rig) == (upload.tests.get(), "beyond_limits", True)
    assert alarm.doubted_since == dt.datetime(2026, 2, 10, 8, tzinfo=dt.UTC)
    assert entries_of(charted.rig).first().content["actor_name"] == "system"
    assert list(faults()) == []


def test_point_within_the_limits_stops_nothing(charted):
    charted.upload(bench_check(5.1))
    assert not stopped(charted)
    assert not CheckAlarm.objects.exists()


def test_zip_of_many_files_stops_the_rig_in_the_same_transaction(charted):
    others = [bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen=f"F2-{n:02d}") for n in range(3)]
    charted.upload(zipped([*others, bench_check(5.2)]), name="day.zip")
    assert stopped(charted)


def test_readings_file_stops_the_rig(charted):
    charted.upload(readings_bytes(rows_of([5.2], start=10)))
    assert stopped(charted)


def test_api_stops_the_rig(charted, api_for):
    from django.core.files.uploadedfile import SimpleUploadedFile

    body = {"file": SimpleUploadedFile("c.csv", bench_check(5.2))}
    assert api_for(charted.technician).post("/api/lab/uploads/", body, format="multipart").status_code == 201
    assert stopped(charted)


def test_amendment_is_judged_without_the_test_that_it_replaces(charted):
    test = charted.upload(bench_check(5.1)).tests.get()
    corrected = bench_check(5.2, hour=9)
    services.bench_test_amend(actor=charted.technician, test=test, name="b.csv", data=corrected, reason="torque offset")
    assert stopped(charted)
    assert [point.value for point in check_series(CheckDuty.objects.get())[0].points[10:]] == [pytest.approx(5.2)]
    assert list(faults()) == []


def test_held_check_is_not_on_the_chart(charted):
    charted.upload(bench_check(5.2, temperature="30 degC"))
    assert not stopped(charted)


def test_voided_check_leaves_the_chart_and_the_stop_stays(charted):
    test = charted.upload(bench_check(5.2)).tests.get()
    services.bench_test_void(actor=charted.reviewer, test=test, reason="clamp slipped")
    assert len(check_series(CheckDuty.objects.get())[0].points) == 10
    assert stopped(charted)


def test_void_that_joins_a_run_stops_the_rig(charted):
    # Seven above the centre, one below, one above: without the one below they are eight in a row.
    run = [5.115, 5.112, 5.116, 5.113, 5.114, 5.112, 5.115]
    for day, torque in enumerate([*run, 5.09, 5.113], start=11):
        charted.upload(bench_check(torque, day=day))
    assert not stopped(charted)
    below = check_series(CheckDuty.objects.get())[0].points[17].test
    from labtests.models import BenchTest

    services.bench_test_void(actor=charted.reviewer, test=BenchTest.objects.get(pk=below), reason="wrong foot")
    assert stopped(charted)
    assert "eight in a row" in charted.rig.stopped_because


def test_cleared_points_leave_limits_and_runs(charted):
    charted.upload(bench_check(5.2))
    before = check_series(CheckDuty.objects.get())[0].chart.limits
    rig = services.rig_clear(actor=charted.reviewer, rig=charted.rig, reason="torque arm was loose; refitted")
    assert not rig.is_stopped
    series = check_series(CheckDuty.objects.get())[0]
    assert series.chart.excluded == (10,)
    assert series.chart.limits.n == 10
    assert series.chart.limits.sigma < before.sigma
    alarm = CheckAlarm.objects.get()
    assert (alarm.cleared_by, alarm.cleared_because) == (charted.reviewer, "torque arm was loose; refitted")
    charted.upload(bench_check(5.1, day=12))
    assert not stopped(charted)
    assert list(faults()) == []


def test_clearing_what_is_still_out_of_control_stops_the_rig_again(charted):
    # A wild point widens the limits so far that the next is within them; without it the next is out as well.
    charted.upload(zipped([bench_check(6.2, day=11), bench_check(5.35, day=12)]))
    assert {alarm.rule for alarm in CheckAlarm.objects.all()} == {"beyond_limits"}
    rig = services.rig_clear(actor=charted.reviewer, rig=charted.rig, reason="sensor seated again")
    assert rig.is_stopped
    assert "5.35" in rig.stopped_because
    assert CheckAlarm.objects.open().count() == 1
    assert not services.rig_clear(actor=charted.reviewer, rig=rig, reason="the same sensor").is_stopped


def test_shoe_tested_before_the_last_check_in_control_may_be_published(charted):
    charted.approved(specimen="F2-01", performed="2026-02-10T07:00:00+00:00")
    charted.upload(bench_check(5.2))
    assert services.shoe_proposal(shoe=charted.shoe).refusals == ()


def test_shoe_tested_since_the_last_check_in_control_is_refused_until_cleared(charted):
    charted.approved(specimen="F2-01", performed="2026-02-10T09:00:00+00:00")
    charted.upload(bench_check(5.2))
    with pytest.raises(DomainError, match="Rig rig-1 is stopped"):
        services.shoe_publish(actor=charted.reviewer, shoe=charted.shoe, reason="first")
    services.rig_clear(actor=charted.reviewer, rig=charted.rig, reason="refitted")
    assert services.shoe_publish(actor=charted.reviewer, shoe=charted.shoe, reason="first").is_current


def test_rig_stopped_by_hand_puts_every_test_in_doubt(charted):
    charted.approved(specimen="F2-01", performed="2026-02-10T07:00:00+00:00")
    services.rig_stop(actor=charted.technician, rig=charted.rig, reason="odd noise")
    charted.upload(bench_check(5.2))
    assert not CheckAlarm.objects.get().stopped_rig
    assert "odd noise" in services.shoe_proposal(shoe=charted.shoe).refusals[0]


def test_tests_of_a_check_shoe_are_not_published(charted):
    test = check_series(CheckDuty.objects.get())[0].points[0].test
    from labtests.models import BenchTest

    services.bench_test_approve(actor=charted.reviewer, test=BenchTest.objects.get(pk=test), reason="")
    assert any("check shoe" in words for words in services.shoe_proposal(shoe=charted.shoe).refusals)


def test_fewer_than_ten_points_stop_nothing(lab):
    lab.upload(zipped(one_test_a_file([*STEADY[:8], 9.0])))
    services.check_shoe_designate(
        actor=lab.technician, rig=lab.rig, specimen=Specimen.objects.get(), since=MARCH, reason="stable"
    )
    assert not stopped(lab)


def test_designating_a_shoe_with_a_bad_history_stops_the_rig_at_once(lab):
    lab.upload(zipped(one_test_a_file([*STEADY, 9.0])))
    services.check_shoe_designate(
        actor=lab.technician, rig=lab.rig, specimen=Specimen.objects.get(), since=MARCH, reason="stable"
    )
    assert stopped(lab)


def test_rig_has_one_check_shoe_at_a_time_with_reasons(charted):
    shoe = Specimen.objects.get()
    with pytest.raises(DomainError, match="retire that one first"):
        services.check_shoe_designate(actor=charted.technician, rig=charted.rig, specimen=shoe, since=MARCH, reason="x")
    duty = CheckDuty.objects.get()
    with pytest.raises(DomainError, match="Give a reason"):
        services.check_shoe_retire(actor=charted.reviewer, duty=duty, reason=" ")
    duty = services.check_shoe_retire(actor=charted.reviewer, duty=duty, reason="torn")
    with pytest.raises(DomainError, match="already retired"):
        services.check_shoe_retire(actor=charted.reviewer, duty=duty, reason="torn")
    charted.upload(bench_check(5.2))
    assert not stopped(charted)
    assert [entry.action for entry in entries_of(duty)] == [
        "labtests.check_duty.retired",
        "labtests.check_duty.designated",
    ]


def test_check_shoe_from_tomorrow_on_is_refused(lab):
    specimen = lab.accepted().specimen
    with pytest.raises(DomainError, match="must not be in the future"):
        services.check_shoe_designate(
            actor=lab.technician, rig=lab.rig, specimen=specimen, since=dt.date(2099, 1, 1), reason="x"
        )


def test_upload_without_a_check_shoe_costs_one_query(charted, django_assert_num_queries):
    from labtests.models import Upload
    from labtests.services.studies.check_shoes import checks_judge_upload

    files = [bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen=f"F2-{n:02d}") for n in range(12)]
    charted.upload(zipped(files), name="day.zip")
    upload = Upload.objects.latest("pk")
    with django_assert_num_queries(1):
        assert checks_judge_upload(upload) == []


def test_failed_upload_leaves_neither_test_nor_stop(charted, monkeypatch):
    from labtests.services.bench import uploads

    def fail(*args, **kwargs):
        raise RuntimeError("cut off")

    entries = AuditEntry.objects.count()
    monkeypatch.setattr(uploads.audit, "record_many", fail)
    with pytest.raises(RuntimeError):
        charted.upload(bench_check(5.2))
    assert not stopped(charted)
    assert not CheckAlarm.objects.exists()
    assert AuditEntry.objects.count() == entries
