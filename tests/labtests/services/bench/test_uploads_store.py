"""Uploads: stored once, each file accepted, held or rejected, nothing half-stored."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import pytest
from django.utils import timezone

from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from core.models import AuditEntry
from labtests import services
from labtests.models import BenchTest, Curve, Reading, Result, Specimen, Upload
from tests.labtests.bench_text import READINGS_ROW, bench_bytes, curve_rows, readings_bytes


def zipped(**members: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as bundle:
        for name, data in members.items():
            bundle.writestr(f"{name}.csv", data)
    return buffer.getvalue()


def test_file_within_the_protocol_is_accepted_and_kept_byte_for_byte(lab):
    data = bench_bytes(curve_rows([(5.1, 5.9), (5.2, 6.0), (5.0, 5.8)]))
    upload = lab.upload(data)
    test = upload.tests.get()
    assert upload.verdict["accepted"] == [{"file": "a.csv", "specimen": "F2-01", "test": test.pk}]
    assert upload.verdict["held"] == upload.verdict["rejected"] == []
    assert bytes(upload.data) == data
    assert test.state == "accepted"
    assert test.torque_15_nm == pytest.approx(5.1)
    assert test.deflection_mm == pytest.approx(5.9)
    assert test.operator == lab.technician
    assert test.performed_at == dt.datetime(2026, 3, 4, 10, 15, tzinfo=dt.UTC)
    assert (test.curves.count(), test.readings.count(), test.results.count()) == (9, 3, 1)


def test_curves_come_back_as_they_were_sent(lab):
    test = lab.accepted()
    angle, torque = test.curves.get(kind="torsion", repeat=2).points()
    assert angle.tolist() == [0.0, 5.0, 10.0, 15.0]
    assert torque[-1] == pytest.approx(5.1)


def test_result_holds_scores_uncertainties_and_budgets(lab):
    result = lab.accepted().results.get()
    assert result.midfoot == pytest.approx(100 * 5.1 / 9.038783)
    assert result.stability_u == pytest.approx((result.stability_u_a**2 + result.stability_u_b**2) ** 0.5)
    assert sum(row.share for row in result.budget_tables["stability"].rows) == pytest.approx(1)
    assert -1 <= result.correlation_rearfoot_cushioning <= 1


def test_readings_file_in_inch_pounds_is_converted_and_scored(lab):
    # 45 of 80 in·lbf and (10 - 5.9) of 7 mm: 0.54 * 56.25 + 0.46 * 58.571.
    columns = (
        "shoe,specimen,size,side,rig,operator,performed,conditioned [h],temperature [degF],heel_clamp [lbf],"
        "forefoot_clamp [lbf],repeat,torque_15 [in*lbf],deflection [mm]"
    )
    row = "fenrunner-2,F2-01,EU 42.5,left,rig-1,technician,2026-03-04T10:15:00+00:00,52,72.7,101,39.5,1,45,5.9"
    test = lab.upload(readings_bytes([row], columns=columns)).tests.get()
    result = test.results.get()
    assert test.state == "accepted"
    assert round(result.stability, 1) == 57.3
    assert result.cushioning_estimated
    assert result.stability_u is None


def test_single_repeat_takes_its_scatter_from_the_history_of_the_rig(lab):
    lab.accepted(specimen="F2-00")
    upload = lab.upload(bench_bytes(curve_rows([(5.1, 5.9)])))
    result = upload.tests.get().results.get()
    assert result.stability_u > 0
    assert "pooled history" in result.budget_tables["stability"].rows[0].source


def test_same_bytes_again_are_the_same_upload(lab):
    data = bench_bytes()
    first, again = lab.upload(data), lab.upload(data, name="other.csv", actor=lab.reviewer)
    assert (again.pk, again.is_repeat, first.is_repeat) == (first.pk, True, False)
    assert again.verdict == first.verdict
    assert (Upload.objects.count(), BenchTest.objects.count()) == (1, 1)


def test_same_file_inside_a_zip_makes_no_second_test(lab):
    data = bench_bytes(curve_rows([(5.1, 5.9)] * 3))
    test = lab.upload(data).tests.get()
    other = bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen="F2-02")
    upload = lab.upload(zipped(a=data, b=other, c=other), name="a.zip")
    assert upload.verdict["accepted"][0]["test"] == test.pk
    assert [entry.get("stored_before", False) for entry in upload.verdict["accepted"]] == [True, False, True]
    assert BenchTest.objects.count() == 2


def test_voided_file_sent_again_is_rejected_with_the_reason(lab):
    data = bench_bytes()
    services.bench_test_void(actor=lab.reviewer, test=lab.upload(data).tests.get(), reason="clamp slipped")
    (entry,) = lab.upload(zipped(a=data), name="a.zip").verdict["rejected"]
    assert "was voided: clamp slipped" in entry["problem"]


def test_held_file_sent_again_is_held_with_its_reasons(lab):
    data = bench_bytes(temperature="30 degC")
    lab.upload(data)
    (entry,) = lab.upload(zipped(a=data), name="a.zip").verdict["held"]
    assert entry["stored_before"]
    assert "midsole temperature is 30 °C" in entry["reasons"][0]


def test_conditions_outside_the_protocol_hold_the_test_with_every_reason(lab):
    upload = lab.upload(bench_bytes(temperature="30 degC", conditioned="12 h"))
    (entry,) = upload.verdict["held"]
    assert entry["reasons"][:2] == [
        "conditioning time is 12 h; accepted: at least 48 h",
        "midsole temperature is 30 °C; accepted: 21 to 25 °C",
    ]
    assert upload.tests.get().state == "held"


def test_each_repeat_of_a_readings_file_must_be_within_the_protocol(lab):
    rows = [READINGS_ROW.format(1, 5.1, 5.9), READINGS_ROW.format(2, 5.1, 5.9).replace(",22.6,", ",30,")]
    test = lab.upload(readings_bytes(rows)).tests.get()
    assert test.state == "held"
    assert test.temperature_c == pytest.approx(26.3)
    assert test.readings.get(repeat=2).conditions["temperature_c"] == 30


def test_rig_out_of_calibration_holds_the_test(lab):
    data = bench_bytes(performed="2024-03-04T10:15:00+00:00")
    (entry,) = lab.upload(data).verdict["held"]
    assert len(entry["reasons"]) == 5
    assert "force calibration of rig rig-1 is missing" in entry["reasons"][0]


def test_curve_that_stops_short_holds_the_test_without_scores(lab):
    rows = ["torsion,1,loading,0,0", "torsion,1,loading,14,4"]
    test = lab.upload(bench_bytes(rows)).tests.get()
    assert test.state == "held"
    assert "stops at 14°" in test.reasons[0]["message"]
    assert test.torque_15_nm is None
    assert not Result.objects.exists()


@pytest.mark.parametrize(
    ("change", "column", "words"),
    [
        ({"shoe": "no-such"}, "shoe", "the catalogue has no shoe “no-such”"),
        ({"rig": "no-such"}, "rig", "there is no rig “no-such”"),
        ({"operator": "fitter-a"}, "operator", "is not one of the lab’s staff"),
        ({"operator": "nobody"}, "operator", "is not one of the lab’s staff"),
        ({"performed": "2099-03-04T10:15:00+00:00"}, "performed", "is after the upload"),
        ({"side": "L"}, "side", "write left or right"),
    ],
)
def test_file_that_names_what_is_not_known_is_rejected_and_nothing_of_it_stored(lab, change, column, words):
    upload = lab.upload(bench_bytes(**change))
    (entry,) = upload.verdict["rejected"]
    assert (entry["file"], entry["column"]) == ("a.csv", column)
    assert entry["line"] >= 2
    assert words in entry["problem"]
    stored = (BenchTest, Specimen, Curve, Reading, Result)
    assert not any(model.objects.exists() for model in stored)


def test_specimen_on_record_with_another_size_is_rejected(lab):
    lab.accepted()
    (entry,) = lab.upload(bench_bytes(size="EU 43")).verdict["rejected"]
    assert entry["column"] == "size"
    assert "on record with the size 42.5, not 43.0" in entry["problem"]


def test_refused_file_does_not_bring_its_specimen(lab):
    bad = bench_bytes(specimen="F2-09", side="right", performed="2099-01-01T00:00:00Z")
    good = bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen="F2-09")
    upload = lab.upload(zipped(a=bad, b=good), name="a.zip")
    assert [entry["column"] for entry in upload.verdict["rejected"]] == ["performed"]
    assert Specimen.objects.get().side == "left"


def test_bad_file_in_a_zip_leaves_the_others_alone(lab):
    upload = lab.upload(zipped(bad=b"\xff", good=bench_bytes()), name="a.zip")
    assert [entry["file"] for entry in upload.verdict["rejected"]] == ["bad.csv"]
    assert len(upload.verdict["accepted"]) == 1


def test_unknown_keys_are_kept_and_warned_of(lab):
    upload = lab.upload(bench_bytes(humidity="50 %"))
    assert upload.tests.get().extra == {"humidity": "50 %"}
    assert upload.verdict["warnings"][0]["file"] == "a.csv"


def test_everything_stored_is_in_the_audit_trail_and_agrees(lab):
    lab.upload(bench_bytes())
    lab.upload(bench_bytes(temperature="30 degC"))
    assert list(faults()) == []
    actions = set(AuditEntry.objects.values_list("action", flat=True))
    expected = {"upload.stored", "specimen.created", "test.accepted", "test.held"}
    assert {f"labtests.{name}" for name in expected} <= actions


@pytest.mark.parametrize(
    ("model", "change"),
    [(Reading, {"torque_15_nm": 9.0}), (Result, {"stability": 99.0}), (Curve, {"load": b"x"}), (Upload, {"name": "x"})],
)
def test_value_changed_behind_the_trails_back_is_found(lab, model, change):
    lab.accepted()
    model.objects.filter(pk=model.objects.first().pk).update(**change)
    assert any("differs from audit entry" in fault.problem for fault in faults())


def test_preview_says_the_same_and_writes_nothing(lab):
    data = zipped(bad=b"", held=bench_bytes(temperature="30 degC"), good=bench_bytes(humidity="50 %"))
    before = AuditEntry.objects.count()
    seen = services.upload_preview(actor=lab.technician, name="a.zip", data=data)
    assert AuditEntry.objects.count() == before
    assert not Upload.objects.exists()
    stored = lab.upload(data, name="a.zip").verdict
    assert [entry["reasons"] for entry in seen.held] == [entry["reasons"] for entry in stored["held"]]
    assert seen.rejected == stored["rejected"]
    assert seen.warnings == stored["warnings"]
    assert [entry["test"] for entry in seen.accepted] == [None]


def test_preview_of_what_is_on_record_points_to_it(lab):
    data = bench_bytes()
    test = lab.upload(data).tests.get()
    seen = services.upload_preview(actor=lab.technician, name="a.zip", data=zipped(a=data))
    assert seen.accepted == [{"file": "a.csv", "specimen": "F2-01", "test": test.pk, "stored_before": True}]


def test_upload_over_the_limit_is_refused(lab, settings):
    settings.UPLOAD_MAX_BYTES = 100
    with pytest.raises(DomainError) as caught:
        lab.upload(b"x" * 101)
    assert caught.value.status == 413


@pytest.mark.parametrize(("name", "kept"), [("../../a.csv", "a.csv"), ("a\x00b\n.csv", "ab.csv"), ("", "upload")])
def test_names_are_cleaned(lab, name, kept):
    assert lab.upload(b"", name=name).name == kept


def test_long_lists_of_problems_end_with_a_word(lab):
    rows = ["torsion,1,loading,x,1"] * 60
    files = {f"f{number}": bench_bytes(rows, specimen=f"S-{number}") for number in range(45)}
    rejected = lab.upload(zipped(**files), name="a.zip").verdict["rejected"]
    assert len(rejected) == 2001
    assert "more than 2000 problems" in rejected[-1]["problem"]


def test_uploads_wait_for_each_other(lab):
    from django.db import connections

    from labtests.services.bench.uploads import UPLOAD_LOCK

    lab.upload(bench_bytes())
    # The test's own transaction holds the lock now; somebody else does not get it until that ends.
    other = connections.create_connection("default")
    with other.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_lock(%s)", [UPLOAD_LOCK])
        got = cursor.fetchone()[0]
    other.close()
    assert got is False


def test_upload_can_be_dated_back(lab):
    at = dt.datetime(2026, 3, 5, 8, tzinfo=dt.UTC)
    upload = services.upload_store(actor=lab.technician, name="a.csv", data=bench_bytes(), at=at, source="demo")
    assert (upload.at, upload.source) == (at, "demo")


def test_staged_bytes_are_confirmed_or_forgotten(lab):
    staged = services.upload_stage(actor=lab.technician, name="a.csv", data=bench_bytes())
    upload = services.upload_confirm(actor=lab.technician, staged=staged)
    assert upload.tests.count() == 1
    other = services.upload_stage(actor=lab.technician, name="b.csv", data=b"x")
    services.upload_unstage(actor=lab.technician, staged=other)
    assert type(staged).objects.count() == 0


def test_staged_bytes_go_after_a_day(lab):
    old = services.upload_stage(actor=lab.technician, name="a.csv", data=b"x")
    type(old).objects.update(at=timezone.now() - dt.timedelta(days=2))
    services.upload_stage(actor=lab.technician, name="b.csv", data=b"y")
    assert [staged.name for staged in type(old).objects.all()] == ["b.csv"]


def test_entries_of_a_test_show_who_and_how(lab):
    entry = entries_of(lab.accepted()).get()
    assert entry.content["actor_name"] == "technician"
    assert entry.content["before"] is None
    assert len(entry.content["after"]["curves"]) == 9
