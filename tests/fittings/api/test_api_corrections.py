"""The API takes a choice back."""

from __future__ import annotations

import pytest

from fittings.models import Choice, Correction
from tests.shared import shared

WORDS = "the customer came back with it"


@pytest.fixture
def fitter(api_for, cast):
    return api_for(cast.fitter_a)


@shared
def choice(chosen, make_shoe):
    make_shoe("other", 66.0)
    return chosen().choice


def correct(client, choice, fitting=None, **changes):
    body = {"kind": "exchange", "slug": "other", "size": "UK 8", "reason": WORDS} | changes
    address = f"/api/fittings/{fitting or choice.fitting_id}/choice/{choice.pk}/correct/"
    return client.post(address, body, format="json")


def test_exchange_answers_the_successor_with_its_follow_ups(fitter, choice):
    response = correct(fitter, choice)
    assert response.status_code == 201, response.content
    answer = response.json()
    successor = Choice.objects.get(replaces=choice)
    assert (answer["id"], answer["replaces"], answer["kind"]) == (successor.pk, choice.pk, "exchange")
    assert (answer["choice"]["slug"], answer["choice"]["size"], answer["reason"]) == ("other", "EU 41.5", WORDS)
    assert [item["shoe"] for item in answer["choice"]["follow_ups"]] == ["other"] * 5
    listed = fitter.get("/api/fittings/").json()["results"]
    assert [row["chosen"] for row in listed] == ["other"]


@pytest.mark.parametrize("kind", ["return", "fault"])
def test_return_without_a_new_shoe_has_no_successor(fitter, choice, kind):
    response = correct(fitter, choice, kind=kind, slug=None, size=None)
    assert response.status_code == 201, response.content
    assert (response.json()["id"], response.json()["choice"]) == (None, None)
    assert response.json()["restocked"] is (kind == "return")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "lost"}, "kind"),
        ({"kind": None}, "kind"),
        ({"reason": ""}, "reason"),
        ({"size": "EU 99"}, "size"),
        ({"slug": "nowhere"}, "slug"),
        ({"slug": None, "size": None}, "slug"),
        ({"restock": "yes"}, "restock"),
        ({"comfort": 12}, "comfort"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_bad_body_is_refused_by_field(fitter, choice, changes, field):
    response = correct(fitter, choice, **changes)
    assert response.status_code == 400, response.content
    assert field in response.json()["fields"]
    assert not Correction.objects.exists()


def test_late_doubled_and_foreign_corrections(fitter, choice, chosen, api_for, cast):
    assert correct(fitter, choice).status_code == 201
    doubled = correct(fitter, choice)
    assert (doubled.status_code, doubled.json()["code"]) == (409, "already_corrected")
    newest = Choice.objects.get(replaces=choice)
    assert correct(fitter, newest, kind="return", slug=None, size=None).status_code == 201
    assert correct(fitter, newest, kind="return", slug=None, size=None).status_code == 409
    other = chosen(name="Else", email="else@example.org")
    assert correct(fitter, other.choice, fitting=choice.fitting_id).status_code == 404
    assert correct(api_for(cast.fitter_b), other.choice).status_code == 404
    assert Correction.objects.count() == 2


def test_another_pair_is_no_second_choice(fitter, choice):
    address = f"/api/fittings/{choice.fitting_id}/choice/"
    again = {"slug": "other", "size": "EU 43"}
    assert fitter.post(address, again, format="json").status_code == 409
    answer = fitter.post(address, again | {"another_pair": True}, format="json")
    assert (answer.status_code, answer.json()["pair"]) == (201, 2)
    assert [item["shoe"] for item in answer.json()["follow_ups"]] == ["other"] * 5


def test_answer_takes_a_comment_and_whether_a_clinician_was_seen(fitter, choice):
    follow_up = choice.fitting.follow_ups.get(weeks=2)
    body = {"saw_clinician": True, "comment": "better since"}
    answer = fitter.post(f"/api/follow-ups/{follow_up.pk}/answer/", body, format="json")
    assert answer.status_code == 200, answer.content
    follow_up.refresh_from_db()
    assert (follow_up.saw_clinician, follow_up.comment, follow_up.wearing) == (True, "better since", None)
