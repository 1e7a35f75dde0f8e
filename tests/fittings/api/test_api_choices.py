"""The API of choices: the follow-ups that they make, sizes in every system, and what is refused."""

from __future__ import annotations

import json

import pytest

from catalogue.domain.sizes import SIZE_PATTERN
from fittings.models import Choice, FollowUp

URL = "/api/fittings/"


def post(client, body, url=URL):
    return client.post(url, body, format="json")


@pytest.fixture
def fitter(api_for, cast):
    return api_for(cast.fitter_a)


def test_other_store_finds_neither_fitting_nor_choice(fitter, body, make_shoe, api_for, cast):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    other = api_for(cast.fitter_b)
    assert other.get(f"{URL}{pk}/recommendations/").status_code == 404
    assert post(other, {"slug": "in-target", "size": "42.5"}, f"{URL}{pk}/choice/").status_code == 404
    assert other.get(f"{URL}{10**30}/recommendations/").status_code == 404


def test_choice_makes_the_follow_ups(fitter, body, make_shoe):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    response = post(fitter, {"slug": "in-target", "size": "EU 42.5", "comfort": 8, "reason": ""}, f"{URL}{pk}/choice/")
    assert response.status_code == 201, response.content
    answer = response.json()
    assert [item["weeks"] for item in answer["follow_ups"]] == [2, 6, 12, 26, 52]
    assert answer["in_target"] is True
    choice = Choice.objects.get()
    assert (choice.stability, choice.in_target, choice.comfort) == (71.0, True, 8)
    days = [(item.due_on - choice.at.date()).days for item in FollowUp.objects.order_by("weeks")]
    assert days == [14, 42, 84, 182, 364]


@pytest.mark.parametrize(
    ("size", "answered"),
    [
        ("EU 40.5", "EU 40.5"), ("40,5", "EU 40.5"), (40.5, "EU 40.5"), (40, "EU 40"), ("UK 7", "EU 40.5"),
        ("US M 8", "EU 40.5"), ("US W 9", "EU 40.5"), ("256 mm", "EU 40.5"),
    ],
)  # fmt: skip
def test_choice_takes_a_size_in_every_system_and_answers_in_eu(fitter, body, make_shoe, size, answered):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    response = post(fitter, {"slug": "in-target", "size": size}, f"{URL}{pk}/choice/")
    assert (response.status_code, response.json()["size"]) == (201, answered)
    assert f"EU {Choice.objects.get().size_eu.normalize():f}" == answered


@pytest.mark.parametrize("size", ["UK 44", "US 9", "US M 1", "84 mm", "EU\t42", "FR 42", "", 14.9, 42.55, 1e300])
def test_size_that_cannot_be_is_refused_with_the_forms_that_can(fitter, body, make_shoe, size):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    response = post(fitter, {"slug": "in-target", "size": size}, f"{URL}{pk}/choice/")
    assert response.status_code == 400
    (said,) = response.json()["fields"]["size"]
    assert "EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm" in said
    assert "UK 1 to 18.5" in said


def test_schema_of_a_choice_describes_the_sizes(client, db):
    schema = client.get("/api/schema/?format=json").json()
    text, number = schema["components"]["schemas"]["ChoiceInputRequest"]["properties"]["size"]["oneOf"]
    assert text == {"type": "string", "pattern": SIZE_PATTERN}
    assert (number["minimum"], number["maximum"]) == (15, 55)


def test_second_choice_is_refused_and_doubles_nothing(fitter, body, make_shoe):
    make_shoe("in-target", 71.0)
    pk = post(fitter, body()).json()["id"]
    chosen = {"slug": "in-target", "size": 42.5}
    assert post(fitter, chosen, f"{URL}{pk}/choice/").status_code == 201
    response = post(fitter, chosen, f"{URL}{pk}/choice/")
    assert response.status_code == 409
    assert (Choice.objects.count(), FollowUp.objects.count()) == (1, 5)


def test_choice_outside_the_target_needs_a_reason(fitter, body, make_shoe):
    make_shoe("outside", 50.0)
    pk = post(fitter, body()).json()["id"]
    url = f"{URL}{pk}/choice/"
    refused = post(fitter, {"slug": "outside", "size": "42.5", "comfort": 9, "reason": "  "}, url)
    assert refused.status_code == 400
    assert "outside the target 65.0 to 77.0" in refused.json()["fields"]["reason"][0]
    answer = post(fitter, {"slug": "outside", "size": "42.5", "comfort": 9, "reason": "Far more comfortable"}, url)
    assert answer.status_code == 201
    assert answer.json()["in_target"] is False


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"slug": "no-such"}, "slug"),
        ({"slug": "hidden"}, "slug"),
        ({"slug": "\x00"}, "slug"),
        ({"slug": None}, "slug"),
        ({"size": "XL"}, "size"),
        ({"size": 99}, "size"),
        ({"size": True}, "size"),
        ({"size": ["42"]}, "size"),
        ({"size": "\x00"}, "size"),
        ({"size": None}, "size"),
        ({"comfort": 11}, "comfort"),
        ({"comfort": 7.5}, "comfort"),
        ({"reason": "x" * 501}, "reason"),
        ({"reason": "\x00"}, "reason"),
        ({"reason": "the heel\x1b slips"}, "reason"),
    ],
    ids=lambda value: json.dumps(value)[:40],
)
def test_a_bad_choice_is_refused_by_its_field(fitter, body, make_shoe, change, field):
    make_shoe("in-target", 71.0)
    make_shoe("hidden", 71.0, published=False)
    pk = post(fitter, body()).json()["id"]
    chosen = {"slug": "in-target", "size": "EU 42.5", "comfort": 8, "reason": "why"} | change
    response = post(fitter, chosen, f"{URL}{pk}/choice/")
    assert response.status_code == 400, response.content
    assert field in response.json()["fields"]
    assert Choice.objects.count() == 0
