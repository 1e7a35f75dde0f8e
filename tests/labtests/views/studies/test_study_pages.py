"""Pages of gauge studies: planned, complete, closed, analysed from elsewhere, and what bad input gets."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labtests import services
from labtests.models import GaugeStudy
from tests.labtests.views.lab_pages import page, queries_of, text_of
from tests.labtests.views.studies.measured_tests import measured, moment

BALANCED = """part,operator,trial,value
a,x,1,4.1
a,x,2,4.2
a,y,1,4.2
a,y,2,4.1
b,x,1,5.1
b,x,2,5.0
b,y,1,5.2
b,y,2,5.1
"""


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


def second_operator(lab):
    from core.gate.access import Role
    from core.models import Membership, User

    user = User.objects.create(username="technician-b")
    Membership.objects.create(user=user, role=Role.TECHNICIAN)
    return user


PLAN = {
    "title": "Spring study",
    "rig": "rig-1",
    "specimens": "G-1\nG-2",
    "operators": "technician, technician-b",
    "trials": "2",
    "begins_on": "2026-02-01",
    "reason": "before the season",
}


@pytest.fixture
def study(technician, lab):
    """A planned study whose last test is still missing."""
    second_operator(lab)
    for n, (specimen, operator, trial) in enumerate(
        [(s, o, t) for s in ("G-1", "G-2") for o in ("technician", "technician-b") for t in (1, 2)][:-1]
    ):
        torque = {"G-1": 4.0, "G-2": 5.0}[specimen] + 0.01 * trial + 0.004 * n
        measured(lab, specimen, torque, moment(n), operator=operator)
    answer = technician.post(reverse("labtests:study-create"), PLAN)
    assert answer.status_code == 302, answer.content[:2000]
    return GaugeStudy.objects.get()


def test_study_is_planned_and_says_what_is_missing(technician, study):
    text = page(technician, "study-detail", study.pk)
    assert "7 of 8 tests are in." in text
    assert "G-2 by technician-b, trial 2" in text
    assert "1 of 2, 1 missing" in text
    assert "wrong band" not in text


@pytest.mark.parametrize("quantity", ["torque", "deflection", "stability", "nonsense"])
def test_complete_study_shows_its_result(technician, lab, study, quantity):
    measured(lab, "G-2", 5.05, moment(9), operator="technician-b", deflection=5.91)
    text = page(technician, "study-detail", study.pk, quantity=quantity)
    assert "8 of 8 tests are in." in text
    for words in (
        "From the specimens to the bench",
        "analysis of variance",
        "tell apart",
        "Points of the score",
        "<polyline",
    ):
        assert words in text, words
    assert "one point from a band limit lands in the wrong band in" in text
    places = [
        text.index(f">{name}<") for name in ("specimens", "repeated tests by one operator", "the bench as a whole")
    ]
    assert places == sorted(places)


def test_void_test_leaves_the_study(technician, lab, study):
    test = measured(lab, "G-2", 5.05, moment(9), operator="technician-b")
    services.bench_test_void(actor=lab.reviewer, test=test, reason="slipped")
    assert "7 of 8 tests are in." in page(technician, "study-detail", study.pk)


def test_tests_beyond_the_plan_do_not_count(technician, lab, study):
    for hour in (9, 10):
        measured(lab, "G-2", 5.05, moment(9, hour), operator="technician-b", deflection=5.9 + hour / 1000)
    text = page(technician, "study-detail", study.pk)
    assert "8 of 8 tests are in." in text
    assert "1 beyond the plan" in text


def test_study_readings_come_as_csv_that_the_other_page_takes(technician, lab, study):
    measured(lab, "G-2", 5.05, moment(9), operator="technician-b", deflection=5.91)
    response = technician.get(reverse("labtests:study-readings", args=[study.pk]))
    assert response.headers["Content-Disposition"].startswith("attachment")
    table = response.getvalue().decode().replace("torque_15_nm", "value")
    assert "From the specimens to the bench" in text_of(
        technician.post(reverse("labtests:study-what-if"), {"text": table})
    )


def test_study_is_closed_once_with_a_reason(technician, study):
    address = reverse("labtests:study-close", args=[study.pk])
    assert technician.post(address, {"reason": ""}).status_code == 400
    assert technician.post(address, {"reason": "done"}).status_code == 302
    assert "already closed" in text_of(technician.post(address, {"reason": "done"}, follow=True))
    assert "Closed by" in page(technician, "study-detail", study.pk)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"specimens": "G-1"}, "specimens must be 2 to 50, got 1"),
        ({"specimens": "G-1 nope"}, "there is no specimen"),
        ({"operators": "technician fitter-a"}, "there is no person of the lab"),
        ({"operators": "technician technician"}, "operators must be 2 to 20, got 1"),
        ({"trials": "1"}, "Write 2 or more"),
        ({"rig": "rig-9"}, "This is not one of the choices"),
        ({"begins_on": "soon"}, "Enter a valid date"),
        ({"title": "a\x07b"}, "control characters"),
        ({"reason": "  "}, "Fill in “Why the study is made”."),
    ],
)
def test_plan_that_cannot_be_is_explained(technician, lab, change, words):
    second_operator(lab)
    for specimen in ("G-1", "G-2"):
        lab.accepted(specimen=specimen)
    response = technician.post(reverse("labtests:study-create"), {**PLAN, **change})
    assert response.status_code == 400
    assert words in text_of(response)
    assert not GaugeStudy.objects.exists()


def test_numbers_from_elsewhere_are_analysed_and_not_stored(technician):
    address = reverse("labtests:study-what-if")
    assert technician.get(address).status_code == 200
    assert "analysis of variance" in text_of(technician.post(address, {"text": BALANCED}))
    file = SimpleUploadedFile("s.csv", BALANCED.replace(",", ";").encode())
    assert "analysis of variance" in text_of(technician.post(address, {"file": file}))
    assert not GaugeStudy.objects.exists()


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("", "Paste a table or pick a file"),
        ("part,operator,value\n1,2,3", "is missing in the heading"),
        ("part,operator,trial,value\na,x,1,4,5", "must be ≥ 2"),
        ("part,operator,trial,value\na,x,1,four", "Line 2, value"),
        ("part,operator,trial,value\na,x,1,nan", "is not a number"),
        ("part,operator,trial,value\na,x,1,1e999", "is not a number"),
        ("part;operator;trial;value\na;x;1;5,02", "a decimal point is expected, such as 5.02"),
        ("part,operator,trial,value\na,x,1", "the line has 3 columns"),
        ("part,operator,trial,value\n,x,1,2", "write a name"),
        ("part,operator,trial,value\n", "no row below the heading"),
        (BALANCED + "b,y,2,5.3\n", "already on line 9"),
        (BALANCED + "c,y,2,5.3\n", "must test every part equally often"),
        (BALANCED.replace("5.", "4.").replace("4.2", "4.1").replace("4.0", "4.1"), "must not all be equal"),
    ],
)
def test_table_that_cannot_be_analysed_is_explained(technician, table, words):
    response = technician.post(reverse("labtests:study-what-if"), {"text": table})
    assert response.status_code == 400
    assert words in text_of(response).replace("&#x27;", "'")


@pytest.mark.parametrize("name", ["study-what-if", "precision-what-if"])
@pytest.mark.parametrize("data", [b"\xff\xfe", b"\x00\x01", b"lab", b'"', b"x" * 500_000])
def test_odd_bytes_are_explained_not_failed(technician, name, data):
    response = technician.post(reverse(f"labtests:{name}"), {"file": SimpleUploadedFile("x.csv", data)})
    assert response.status_code == 400


def test_study_page_takes_the_same_queries_complete_or_not(technician, lab, study):
    before = queries_of(technician, "study-detail", study.pk)
    measured(lab, "G-2", 5.05, moment(9), operator="technician-b", deflection=5.91)
    assert queries_of(technician, "study-detail", study.pk) == before
