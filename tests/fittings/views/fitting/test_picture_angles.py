"""Measuring on a picture, as the page of a fitting sends it: marks and no picture, checked and stored by the server."""

from __future__ import annotations

import json
import uuid

import pytest

from fittings.models import DraftSection, Fitting, PictureAngle
from fittings.services.people.privacy import customer_erase, customer_export
from tests.fittings.domain.fitting.test_angles import as_data, rear


def marks(first=7.2, second=7.8, **more):
    return {"rearfoot_eversion": {"readings": [as_data(rear(first)), as_data(rear(second))], **more}}


@pytest.fixture
def key():
    return uuid.uuid4()


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


def ask(client, key, data, foot="right"):
    text = data if isinstance(data, str) else json.dumps(data)
    return client.post(f"/fittings/drafts/{key}/angle/", {"marks": text, "foot": foot})


def test_value_comes_with_repeat_error_grade_and_published_error(fitter, key, django_assert_max_num_queries):
    with django_assert_max_num_queries(8):
        page = ask(fitter, key, marks()).content.decode()
    assert "7.5°; the two readings are 0.6° apart" in page
    assert "2 moderate" in page
    assert "slight from 3.0°, moderate from 6.0°, marked from 9.0° (cut-offs G1: common practice, no source)" in page
    assert "too few pairs of readings yet (0)" in page
    assert "Vergeer" in page
    assert 'data-value="7.5"' in page
    assert not Fitting.objects.exists()
    assert not DraftSection.objects.exists()


@pytest.mark.parametrize(
    ("data", "foot"),
    [
        ("", "right"),
        ("[", "right"),
        ("[" * 3000, "right"),
        ("9" * 3999, "right"),
        ("x" * 5000, "right"),
        ({}, "right"),
        (marks(), "middle"),
        (marks(80.0, 80.0), "right"),
        ({"rearfoot_eversion": {"readings": [as_data(rear(1.0))]}}, "right"),
        ({"rearfoot_eversion": {"readings": [[[0, 0], [0, 10**400], [1, 1], [2, 2]]] * 2}}, "right"),
    ],
)
def test_marks_that_give_nothing_are_refused_in_words(fitter, key, data, foot):
    answer = ask(fitter, key, data, foot)
    assert answer.status_code == 400
    assert "message--error" in answer.content.decode()


def test_camera_is_allowed_on_the_page_of_a_fitting_alone(fitter, client, key):
    page = fitter.get(f"/fittings/drafts/{key}/")
    assert page.headers["Permissions-Policy"].startswith("camera=(self)")
    assert "media-src 'self' blob:" in page.headers["Content-Security-Policy"]
    assert "fittings/angles" in page.content.decode()
    for other in (fitter.get("/fittings/"), client.get("/")):
        assert other.headers["Permissions-Policy"].startswith("camera=()")
        assert "blob:" not in other.headers["Content-Security-Policy"]
        assert "fittings/angles" not in other.content.decode()


def page_of(**more):
    return {
        "do": "finish",
        "person-name": "Ada Example",
        "person-consent": "yes",
        "stop-signs": ["none"],
        "intake-use": "running",
        "right-marks": json.dumps(marks()),
        **more,
    }


def finished(client, key, **more):
    return client.post(f"/fittings/drafts/{key}/", page_of(**more))


def test_marks_become_a_value_with_its_repeat_error_and_no_mark_is_kept(fitter, key, cast):
    assert finished(fitter, key, **{"right-rearfoot_eversion_deg": "7.5"}).status_code == 302
    fitting = Fitting.objects.get()
    foot = fitting.feet.get(foot="right")
    assert (foot.rearfoot_eversion_deg, foot.rearfoot_eversion, foot.cutoffs.name) == (7.5, 2, "G1")
    angle = PictureAngle.objects.get()
    assert (angle.foot, angle.kind, angle.by) == ("right", "rearfoot_eversion", cast.fitter_a)
    assert (angle.mean, angle.apart) == (pytest.approx(7.5), pytest.approx(0.6))
    page = fitter.get(f"/fittings/{fitting.pk}/").content.decode()
    assert "7.5°, two readings 0.6° apart" in page
    assert not DraftSection.objects.exists()


def test_a_grade_picked_beside_the_marks_overrides_the_proposed_one(fitter, key):
    given = {"right-rearfoot_eversion_deg": "7.5", "right-rearfoot_eversion": "1"}
    assert finished(fitter, key, **given).status_code == 302
    foot = Fitting.objects.get().feet.get(foot="right")
    assert (foot.rearfoot_eversion, foot.rearfoot_eversion_deg) == (1, None)
    assert PictureAngle.objects.get().mean == pytest.approx(7.5)


def test_degrees_that_are_not_those_of_the_marks_are_refused_at_the_field(fitter, key):
    answer = finished(fitter, key, **{"right-rearfoot_eversion_deg": "9.5"})
    assert answer.status_code == 400
    assert "The marks on the picture give 7.5, not 9.5" in answer.content.decode()
    assert "Ada Example" in answer.content.decode()
    assert not Fitting.objects.exists()


@pytest.mark.parametrize("text", ["[", "[" * 3000, '{"lean": {}}', "x" * 5000, json.dumps(marks(80.0, 80.0))])
def test_marks_that_cannot_be_read_are_refused_at_the_field(fitter, key, text):
    answer = finished(fitter, key, **{"right-marks": text})
    assert answer.status_code == 400
    assert "easure" in answer.context["problems"][0].errors["rearfoot_eversion_deg"][0]
    assert not Fitting.objects.exists()


def test_typing_degrees_needs_no_picture(fitter, key):
    given = {"right-rearfoot_eversion_deg": "4", "right-marks": ""}
    assert finished(fitter, key, **given).status_code == 302
    assert Fitting.objects.get().feet.get(foot="right").rearfoot_eversion == 1
    assert not PictureAngle.objects.exists()


def test_nothing_measured_is_stored_without_consent_and_all_goes_with_the_person(fitter, key, cast):
    refused = finished(fitter, key, **{"person-consent": "no", "person-name": ""})
    assert refused.status_code == 200
    assert not PictureAngle.objects.exists()
    assert finished(fitter, uuid.uuid4(), **{"right-rearfoot_eversion_deg": "7.5"}).status_code == 302
    customer = Fitting.objects.get(kept=True).customer
    exported = customer_export(actor=cast.manager_a, customer=customer, reason="in-person")
    assert [row["kind"] for row in exported["records"]["fittings.pictureangle"]] == ["rearfoot_eversion"]
    customer_erase(actor=cast.manager_a, customer=customer, reason="in-person")
    assert not PictureAngle.objects.exists()


def test_own_repeat_error_is_shown_from_ten_pairs_on_and_of_own_stores_alone(fitter, key, make_fitting, sign_in, cast):
    fitting = make_fitting()
    PictureAngle.objects.bulk_create(
        PictureAngle(
            fitting=make_fitting(name=f"Person {number}", email="") if number else fitting,
            foot="left",
            kind="rearfoot_eversion",
            mean=5.0,
            apart=2.0,
            at=fitting.at,
            by=cast.fitter_a,
        )
        for number in range(10)
    )
    assert (
        "repeat error: 1.4° (standard deviation of one reading, 10 pairs" in ask(fitter, key, marks()).content.decode()
    )
    other = ask(sign_in(cast.fitter_b), uuid.uuid4(), marks()).content.decode()
    assert "too few pairs of readings yet (0)" in other
