"""Calibrations as records: what can't be is refused, the second signature, striking, the certificate's file."""

from __future__ import annotations

import datetime as dt
import io

import pytest
from django.core.files.storage import default_storage
from PIL import Image

from core.audit import entries_of
from core.audit.verification import faults
from core.domain.errors import DomainError
from labtests import services
from labtests.domain.conditions.calibrations import Point
from labtests.models import BenchTest, Calibration, State
from labtests.selectors.bench import calibrations as selectors
from labtests.selectors.bench.conditioning_doubts import conditioning_doubts, doubted_approvals
from labtests.services import GivenFile

PDF = b"%PDF-1.7\nan invented certificate\n%%EOF\n"
GIVEN = {
    "quantity": "force",
    "certificate": "C-901",
    "calibrated_on": dt.date(2026, 1, 12),
    "due_on": dt.date(2027, 1, 11),
    "standard_uncertainty": 0.35,
    "resolution": 0.1,
    "laboratory": "Harrow Metrology",
    "reference_standard": "load cell LC-7",
    "range_low": 0.0,
    "range_high": 800.0,
    "points": (Point(0.0, 0.2, 0.0), Point(400.0, 401.0, 400.1)),
    "zero": 0.1,
    "gain": 1.0004,
    "degrees_of_freedom": 12.0,
}


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path):
    settings.STORAGES = {
        **settings.STORAGES,
        "default": {
            "BACKEND": "django.core.files.storage.FileSystemStorage",
            "OPTIONS": {"location": str(tmp_path)},
        },
    }


def record(lab, **change):
    return services.calibration_record(actor=lab.technician, rig=lab.rig, **{**GIVEN, **change})


def only_force_of(lab):
    """The force calibration of the fixture struck: tests depend on what is recorded next."""
    known = Calibration.objects.get(rig=lab.rig, quantity="force")
    services.calibration_strike(actor=lab.reviewer, calibration=known, reason="of another rig")


def picture(kind):
    buffer = io.BytesIO()
    Image.new("RGB", (40, 30)).save(buffer, kind)
    return buffer.getvalue()


def test_everything_on_the_certificate_is_on_record(lab):
    calibration = Calibration.objects.get(pk=record(lab).pk)
    for name in GIVEN.keys() - {"points"}:
        assert getattr(calibration, name) == GIVEN[name], name
    assert calibration.to_domain().points == GIVEN["points"]
    assert (calibration.recorded_by, calibration.is_signed) == (lab.technician, False)
    assert list(faults()) == []


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"standard_uncertainty": 0.0}, "standard_uncertainty"),
        ({"standard_uncertainty": float("nan")}, "standard_uncertainty"),
        ({"standard_uncertainty": float("inf")}, "standard_uncertainty"),
        ({"resolution": float("inf")}, "resolution"),
        ({"due_on": dt.date(2126, 1, 12)}, "due_on"),
        ({"due_on": dt.date(2026, 1, 11)}, "due_on"),
        ({"calibrated_on": dt.date(2999, 1, 1), "due_on": dt.date(2999, 12, 1)}, "calibrated_on"),
        ({"calibrated_on": dt.date(1926, 1, 12), "due_on": dt.date(1927, 1, 12)}, "calibrated_on"),
        ({"range_high": 0.0, "points": ()}, "range_high"),
        ({"range_high": None}, "range_high"),
        ({"range_high": 300.0}, "points"),
        ({"points": (Point(5.0, 5.0), Point(5.0, 5.1))}, "points"),
        ({"gain": 0.0}, "gain"),
        ({"zero": float("nan")}, "zero"),
        ({"degrees_of_freedom": 0.5}, "degrees_of_freedom"),
    ],
)
def test_what_can_not_be_is_refused_by_field(lab, change, field):
    before = Calibration.objects.count()
    with pytest.raises(DomainError) as caught:
        record(lab, **change)
    assert (caught.value.status, caught.value.code) == (400, "bad_calibration")
    assert field in caught.value.fields
    assert Calibration.objects.count() == before


def test_author_does_not_sign_and_nobody_signs_twice(lab):
    calibration = record(lab)
    with pytest.raises(DomainError) as caught:
        services.calibration_sign(actor=lab.technician, calibration=calibration)
    assert (caught.value.code, caught.value.status) == ("own_calibration", 403)
    signed = services.calibration_sign(actor=lab.reviewer, calibration=calibration)
    assert (signed.signed_by, signed.is_signed) == (lab.reviewer, True)
    with pytest.raises(DomainError) as caught:
        services.calibration_sign(actor=lab.reviewer, calibration=calibration)
    assert (caught.value.code, caught.value.status) == ("signed_already", 409)
    assert [entry.action for entry in entries_of(calibration).order_by("id")][-1] == "labtests.calibration.signed"


def test_test_is_held_for_the_signature_and_goes_on_with_it(lab):
    only_force_of(lab)
    calibration = record(lab)
    test = lab.accepted()
    assert (test.state, [reason["code"] for reason in test.reasons]) == (State.HELD, ["calibration_force_unsigned"])
    services.calibration_sign(actor=lab.reviewer, calibration=calibration)
    test.refresh_from_db()
    assert (test.state, test.reasons) == (State.ACCEPTED, [])
    assert "labtests.test.reason_lifted" in {entry.action for entry in entries_of(test)}
    assert list(faults()) == []


def test_test_that_is_held_for_more_stays_held_after_the_signature(lab):
    only_force_of(lab)
    calibration = record(lab)
    test = lab.accepted(temperature="30 degC")
    services.calibration_sign(actor=lab.reviewer, calibration=calibration)
    test.refresh_from_db()
    assert (test.state, [reason["code"] for reason in test.reasons]) == (State.HELD, ["temperature_c"])


def test_signed_calibration_in_date_goes_on_counting_beside_a_new_one(lab):
    newer = record(lab, standard_uncertainty=5.0)
    test = lab.accepted()
    assert test.state == State.ACCEPTED
    rows = test.results.get().budget_tables["rearfoot"].rows
    assert {row.calibration for row in rows if row.source.startswith("force")}.isdisjoint({newer.pk, None})


def test_budget_names_the_calibration_of_each_row(lab):
    calibration = record(lab)
    services.calibration_sign(actor=lab.reviewer, calibration=calibration)
    rows = lab.accepted().results.get().budget_tables["rearfoot"].rows
    assert {row.calibration for row in rows if row.source.startswith("force")} == {calibration.pk}
    assert {row.calibration for row in rows if row.type_ == "A"} == {None}


def test_degrees_of_freedom_of_a_certificate_enter_the_budget(lab):
    free = lab.accepted(specimen="F2-01").results.get().budget_tables["rearfoot"].df
    services.calibration_sign(
        actor=lab.reviewer, calibration=record(lab, standard_uncertainty=40.0, degrees_of_freedom=3.0)
    )
    few = lab.accepted(specimen="F2-02", side="right").results.get().budget_tables["rearfoot"].df
    assert few < free
    assert few < 4.0


def test_striking_holds_what_waits_and_doubts_what_is_approved(lab):
    only_force_of(lab)
    calibration = services.calibration_sign(actor=lab.reviewer, calibration=record(lab))
    waiting, approved = lab.accepted(specimen="F2-01"), lab.approved(specimen="F2-02", side="right")
    assert set(selectors.tests_depending_on(calibration)) == {waiting, approved}
    services.calibration_strike(actor=lab.reviewer, calibration=calibration, reason="another load cell")
    waiting.refresh_from_db()
    assert waiting.state == State.HELD
    assert waiting.reasons[0]["code"] == "calibration_force_struck"
    assert "another load cell" in waiting.reasons[0]["message"]
    assert [doubt.test for doubt in doubted_approvals()] == [approved]
    with pytest.raises(DomainError) as caught:
        services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="now")
    assert "another load cell" in caught.value.message
    # Recorded again with the same figures, both count again; with others, neither does.
    other = record(lab, standard_uncertainty=0.7)
    services.calibration_sign(actor=lab.reviewer, calibration=other)
    assert len(doubted_approvals()) == 1
    services.calibration_strike(actor=lab.reviewer, calibration=other, reason="a slip of the pen")
    services.calibration_sign(actor=lab.reviewer, calibration=record(lab))
    waiting.refresh_from_db()
    assert waiting.state == State.ACCEPTED
    assert doubted_approvals() == []
    assert list(faults()) == []


def test_struck_calibration_never_counts_and_can_be_recorded_again(lab):
    only_force_of(lab)
    calibration = services.calibration_sign(actor=lab.reviewer, calibration=record(lab))
    with pytest.raises(DomainError, match="already has a calibration of that day"):
        record(lab)
    with pytest.raises(DomainError, match="Give a reason"):
        services.calibration_strike(actor=lab.reviewer, calibration=calibration, reason=" ")
    services.calibration_strike(actor=lab.reviewer, calibration=calibration, reason="wrong rig")
    with pytest.raises(DomainError, match="wrong rig"):
        services.calibration_strike(actor=lab.reviewer, calibration=calibration, reason="again")
    assert [reason["code"] for reason in lab.accepted().reasons] == ["calibration_force"]
    assert record(lab).pk != calibration.pk


def test_doubts_of_sound_tests_take_one_query(lab, django_assert_num_queries):
    lab.approved()
    with django_assert_num_queries(1):
        assert conditioning_doubts(BenchTest.objects.all()) == {}


def test_drift_is_the_error_as_found_less_the_error_as_left(lab):
    only_force_of(lab)
    record(lab)
    later = record(
        lab,
        calibrated_on=dt.date(2026, 2, 20),
        due_on=dt.date(2027, 2, 19),
        points=(Point(200.0, 201.2), Point(700.0, 700.0)),
    )
    found = selectors.drift_of(later)
    # Left at 400 N with +0.1 N and at 0 N with 0: +0.05 N at 200 N. Nothing is said beyond 400 N.
    assert [round(one.drift, 6) for one in found.drifts] == [1.15]
    assert found.drifts[0].is_beyond


@pytest.mark.parametrize(
    ("data", "type_"), [(PDF, "application/pdf"), (picture("PNG"), "image/png"), (picture("JPEG"), "image/jpeg")]
)
def test_certificate_is_stored_by_its_content(lab, data, type_):
    calibration = record(lab, file=GivenFile("../c 1.exe", data))
    assert (calibration.file_type, calibration.file_name) == (type_, "c 1.exe")
    with default_storage.open(calibration.file_key) as file:
        assert file.read() == data
    assert list(faults()) == []


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"MZ not a certificate",
        PDF[:20],
        picture("PNG")[:60],
        picture("GIF"),
        b"%PDF-1.7" + bytes(11 * 2**20) + b"%%EOF",
    ],
    ids=["empty", "svg", "program", "cut pdf", "cut png", "gif", "too large"],
)
def test_file_that_is_no_certificate_is_refused_and_nothing_is_stored(lab, data, tmp_path):
    before = Calibration.objects.count()
    with pytest.raises(DomainError) as caught:
        record(lab, file=GivenFile("c.pdf", data))
    assert (caught.value.status, caught.value.code) == (400, "bad_certificate")
    assert Calibration.objects.count() == before
    assert not list(tmp_path.rglob("*.*"))


def test_certificate_is_added_once(lab):
    calibration = record(lab)
    file = GivenFile("c.pdf", PDF)
    assert services.calibration_attach(actor=lab.technician, calibration=calibration, file=file).file_key
    with pytest.raises(DomainError) as caught:
        services.calibration_attach(actor=lab.technician, calibration=calibration, file=file)
    assert (caught.value.code, caught.value.status) == ("file_already", 409)
