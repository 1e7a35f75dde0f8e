"""A test typed in by hand goes the way of every upload, and is marked."""

from __future__ import annotations

import pytest
from django.urls import reverse

from core.audit import entries_of
from labtests import services
from labtests.models import BenchTest, StagedUpload, Upload
from labtests.services import SpecimenGiven

ADDRESS = "/lab/new-test/"
TYPED = {
    "rows": "3",
    "shoe": "fenrunner-2",
    "specimen": "F2-01",
    "size": "42.5",
    "side": "left",
    "rig": "rig-1",
    "operator": "technician",
    "performed": "2026-03-04T10:15",
    "conditioned": "52",
    "temperature": "72.7",
    "temperature_unit": "degF",
    "heel_clamp": "101",
    "forefoot_clamp": "39.5",
    "clamp_unit": "lbf",
    "worn": "",
    "mass": "274",
    "torque_unit": "in*lbf",
    "deflection_unit": "mm",
    "torque_15_1": "45",
    "deflection_1": "5.9",
    "torque_15_2": "",
    "deflection_2": "",
    "torque_15_3": "",
    "deflection_3": "",
}


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


def text_of(response):
    return " ".join(response.content.decode().split())


def test_readings_are_typed_in_previewed_and_stored(technician):
    # 45 of 80 in·lbf and (10 - 5.9) of 7 mm: 0.54 * 56.25 + 0.46 * 58.571.
    answer = technician.post(ADDRESS, TYPED)
    assert answer.status_code == 302
    look = text_of(technician.get(answer.url))
    assert "typed in by hand and will be marked so" in look
    assert "57.3" in look
    assert not Upload.objects.exists()
    technician.post(answer.url)
    test = BenchTest.objects.get()
    assert test.state == "accepted"
    assert round(test.results.get().stability, 1) == 57.3
    assert test.mass_g == 274.0
    upload = test.upload
    assert (upload.is_by_hand, upload.source, upload.name) == (True, "hand", "by-hand-F2-01-202603041015.csv")
    assert [one.action for one in entries_of(upload)] == ["labtests.upload.typed_in"]
    page = text_of(technician.get(reverse("labtests:test-detail", args=[test.pk])))
    assert "by hand, by" in page
    assert "typed in by hand" in text_of(technician.get(reverse("labtests:upload-detail", args=[upload.pk])))


def test_api_says_that_it_was_typed_in(technician, lab, api_for):
    technician.post(technician.post(ADDRESS, TYPED).url)
    body = api_for(lab.technician).get(f"/api/lab/tests/{BenchTest.objects.get().pk}/").json()
    assert body["entered_by_hand"]
    assert body["submitted_as"] == "readings"


def test_same_typed_again_is_on_record_once(technician):
    for _ in range(2):
        last = technician.post(technician.post(ADDRESS, TYPED).url, follow=True)
    assert "nothing was stored twice" in text_of(last)
    assert BenchTest.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"shoe": "no-such"}, "shoe", "the catalogue has no shoe"),
        ({"specimen": "a b"}, "specimen", "is not a valid code"),
        ({"size": "42 1/2"}, "size", "is not a size"),
        ({"operator": "fitter-a"}, "operator", "is not one of the lab’s staff"),
        ({"performed": "2081-05-04T10:15"}, "performed", "is after the upload"),
        ({"performed": "noon"}, "performed", "Enter a valid date/time"),
        ({"performed": "1999-05-04T10:15"}, "performed", "the year 1999 makes no sense"),
        ({"conditioned": "two days"}, "conditioned", "is not a number"),
        ({"conditioned": "-1"}, "conditioned", "makes no sense"),
        ({"temperature": "23,5"}, "temperature", "is not a number"),
        ({"heel_clamp": "nan"}, "heel_clamp", "is not a number"),
        ({"forefoot_clamp": "1e9"}, "forefoot_clamp", "makes no sense"),
        ({"worn": "far"}, "worn", "is not a number"),
        ({"mass": "2"}, "mass", "makes no sense"),
        ({"torque_15_1": "1e400"}, "torque_15_1", "too large"),
        ({"deflection_1": ""}, "deflection_1", "is not a number"),
        ({"torque_15_3": "40", "deflection_3": "x"}, "deflection_3", "is not a number"),
        ({"torque_15_1": "", "deflection_1": ""}, "torque_15_1", "at least one repeat"),
        ({"specimen": "x\x07y"}, "specimen", "without line breaks or control characters"),
        ({"specimen": "a\x00"}, "specimen", "Null characters"),
    ],
)
def test_problem_is_beside_the_field_it_came_from(technician, change, field, words):
    response = technician.post(ADDRESS, {**TYPED, **change})
    assert response.status_code == 400
    text = text_of(response)
    label = response.context["form"][field].label
    assert f">{label}</a>: " in text
    assert words in " ".join(response.context["form"].errors[field])
    assert not StagedUpload.objects.exists()


@pytest.mark.parametrize(
    ("change", "label"), [({"rig": "rig-9"}, "Rig"), ({"temperature_unit": "K"}, "Temperature in")]
)
def test_choice_that_there_is_not_is_refused_at_its_field(technician, change, label):
    response = technician.post(ADDRESS, {**TYPED, **change})
    assert response.status_code == 400
    assert f"This is not one of the choices of “{label}”" in text_of(response)
    assert not StagedUpload.objects.exists()


def test_side_that_was_left_out_is_asked_for(technician):
    text = text_of(technician.post(ADDRESS, {**TYPED, "side": ""}))
    assert '<li><a href="#id_side">Choose from “Side”.</a></li>' in text


def test_contradiction_with_the_record_is_beside_its_field(technician, lab):
    lab.accepted(specimen="F2-01")
    response = technician.post(ADDRESS, {**TYPED, "side": "right"})
    assert "is on record with the side left" in response.context["form"].errors["side"][0]


def test_a_problem_of_every_repeat_is_said_once(technician):
    change = {"temperature": "x", "torque_15_2": "45", "deflection_2": "5.9"}
    response = technician.post(ADDRESS, {**TYPED, **change})
    assert len(response.context["form"].errors["temperature"]) == 1


def test_voided_file_typed_again_is_explained_above_the_form(technician, lab):
    technician.post(technician.post(ADDRESS, TYPED).url)
    services.bench_test_void(actor=lab.reviewer, test=BenchTest.objects.get(), reason="misread")
    response = technician.post(ADDRESS, TYPED)
    assert "was voided: misread" in response.context["form"].non_field_errors()[0]


def test_more_repeats_keep_what_was_typed(technician):
    response = technician.post(ADDRESS, {**TYPED, "more": "1"})
    assert response.status_code == 200
    form = response.context["form"]
    assert form.rows == 6
    assert 'value="5.9"' in text_of(response)
    assert not form.errors


@pytest.mark.parametrize("rows", ["", "-1", "x", "9999999", "0", "99"])
def test_odd_number_of_rows_is_repaired(technician, rows):
    response = technician.post(ADDRESS, {**TYPED, "rows": rows, "more": "1"})
    assert response.status_code == 200
    assert 1 <= response.context["form"].rows <= 30


def test_many_repeats_are_taken(technician):
    rows = {f"torque_15_{row}": "40" for row in range(1, 7)} | {f"deflection_{row}": "5.92" for row in range(1, 7)}
    technician.post(technician.post(ADDRESS, {**TYPED, **rows, "rows": "6"}).url)
    assert BenchTest.objects.get().readings.count() == 6


def test_outside_the_protocol_is_held_like_any_other(technician):
    technician.post(technician.post(ADDRESS, {**TYPED, "temperature": "86"}).url)
    test = BenchTest.objects.get()
    assert test.state == "held"
    assert test.reasons[0]["code"] == "temperature_c"


def test_conditioning_log_wins_over_what_was_typed(technician, lab):
    import datetime as dt

    technician.post(technician.post(ADDRESS, TYPED).url)
    chamber = services.chamber_create(actor=lab.reviewer, code="C-1")
    in_at = dt.datetime(2026, 3, 2, 8, 15, tzinfo=dt.UTC)
    services.specimen_in(actor=lab.technician, chamber=chamber, specimen=SpecimenGiven("F2-01"), in_at=in_at, at=in_at)
    technician.post(technician.post(ADDRESS, {**TYPED, "mass": "282"}).url)
    newest = BenchTest.objects.order_by("-pk").first()
    assert newest.conditioned_h == pytest.approx(50.0)
    assert [reason["code"] for reason in newest.reasons] == ["conditioning_differs"]


def test_page_begins_with_who_and_the_units_of_the_reader(technician):
    technician.cookies["units"] = "imperial"
    form = technician.get(ADDRESS, {"shoe": "fenrunner-2"}).context["form"]
    assert form["operator"].value() == "technician"
    assert form["torque_unit"].value() == "in*lbf"
    assert form["shoe"].value() == "Fenwright Fenrunner 2"
