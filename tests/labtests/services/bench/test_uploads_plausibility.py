"""Odd tests are held when they come in, each with a code, and nothing else is."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from labtests import services
from labtests.models import Specimen, State
from tests.labtests.bench_text import bench_bytes, curve_rows

LATER = {"performed": "2026-03-05T10:15:00+00:00"}


def codes(upload):
    return [reason["code"] for reason in upload.tests.get().reasons]


def curves(torque, deflection=5.9):
    return curve_rows([(torque + d, deflection + d) for d in (-0.02, 0.0, 0.02)])


def test_jump_from_the_last_result_of_the_specimen_is_held_and_named(lab, client):
    first = lab.accepted(torque_15=5.1)
    upload = lab.upload(bench_bytes(curves(7.0), **LATER), name="b.csv")
    test = upload.tests.get()
    assert test.state == State.HELD
    assert codes(upload) == ["jump"]
    assert f"test {first.pk} of 2026-03-04, gave 5.1 N·m" in test.reasons[0]["message"]
    client.force_login(lab.technician)
    text = client.get(reverse("labtests:test-detail", args=[test.pk])).content.decode().replace("\xa0", " ")
    assert "torque at 15° 5.100 N·m (now +37.3 %)" in text


@pytest.mark.parametrize("change", [{"worn": "300 km"}, {"specimen": "F2-02"}, {"performed": "2026-03-03T10:00:00Z"}])
def test_other_distance_other_specimen_and_earlier_test_are_not_compared(lab, change):
    lab.accepted(torque_15=5.1)
    assert codes(lab.upload(bench_bytes(curves(7.0), **{**LATER, **change}), name="b.csv")) == []


def test_void_held_and_small_changes_are_no_base_for_a_jump(lab):
    services.bench_test_void(actor=lab.reviewer, test=lab.accepted(torque_15=3.0), reason="wrong shoe")
    lab.accepted(torque_15=3.0, temperature="30 degC", performed="2026-03-04T11:00:00+00:00")
    lab.accepted(torque_15=5.1, performed="2026-03-04T12:00:00+00:00")
    assert codes(lab.upload(bench_bytes(curves(5.9), **LATER), name="b.csv")) == []


def test_check_shoe_has_its_chart_instead(lab):
    test = lab.accepted(torque_15=5.1)
    services.check_shoe_designate(
        actor=lab.technician, rig=lab.rig, specimen=test.specimen, since=dt.date(2026, 3, 1), reason="stable"
    )
    assert codes(lab.upload(bench_bytes(curves(7.0), **LATER), name="b.csv")) == []


def test_reversed_sign_and_disposed_specimen_are_held(lab):
    rows = [row.replace("torsion,1,loading,15,5.1", "torsion,1,loading,15,-5.1") for row in curve_rows([(5.1, 5.9)])]
    upload = lab.upload(bench_bytes(rows))
    assert codes(upload) == ["sign_reversed"]
    specimen = Specimen.objects.get()
    services.specimen_dispose(actor=lab.technician, specimen=specimen, on=dt.date(2026, 3, 4), reason="torn")
    assert codes(lab.upload(bench_bytes(curves(5.1), **LATER), name="b.csv")) == ["specimen_disposed"]


@pytest.mark.parametrize(("high", "found"), [(5.2, []), (5.0, ["outside_calibrated_range"])])
def test_torque_beyond_the_calibrated_range_is_held(lab, high, found):
    given = {"certificate": "T-wide", "calibrated_on": dt.date(2026, 3, 2), "due_on": dt.date(2026, 12, 1)}
    figures = {"standard_uncertainty": 0.02, "resolution": 0.01, "range_low": 0.0, "range_high": high}
    calibration = services.calibration_record(actor=lab.technician, rig=lab.rig, quantity="torque", **given, **figures)
    services.calibration_sign(actor=lab.reviewer, calibration=calibration)
    assert codes(lab.upload(bench_bytes(curves(5.1), **LATER))) == found
