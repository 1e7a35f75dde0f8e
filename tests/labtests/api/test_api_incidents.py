"""The API of incidents: seen first, proposed or carried out by a reviewer, by two to void, refused for a reason."""

from __future__ import annotations

import pytest

from catalogue.models import ScoreCard
from labtests import services
from labtests.models import BenchTest, Incident
from tests.people import person
from tests.shared import shared

INCIDENTS = "/api/lab/incidents/"
KEYS = ["tests", "shoes", "wall_cards", "stores", "fittings"]


@shared
def published(lab):
    tests = [lab.approved(specimen="F2-01"), lab.approved(specimen="F2-02", torque_15=5.4)]
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="both agree")
    return tests


def body(**change):
    given = {
        "rig": "rig-1",
        "quantity": "torque",
        "from": "2026-03-04T00:00:00+00:00",
        "to": "2026-03-04T23:00:00+00:00",
        "reason": "torque cell drifted",
        "dry_run": True,
    }
    return given | change


def send(client, **change):
    return client.post(INCIDENTS, body(**change), format="json")


def test_dry_run_says_what_is_touched_and_changes_nothing(lab, published, api_for):
    response = send(api_for(lab.technician))
    assert response.status_code == 200
    answer = response.json()
    assert list(answer) == KEYS
    assert answer["tests"]["count"] == 2
    assert [test["id"] for test in answer["tests"]["results"]] == [test.pk for test in published]
    (shoe,) = answer["shoes"]["results"]
    assert (shoe["slug"], shoe["becomes"], shoe["stability_then"]) == (lab.shoe.slug, "withdrawn", None)
    assert shoe["because"] == ["None of the tests behind its scores is still in use."]
    assert answer["wall_cards"] == {"count": 0, "results": []}
    assert answer["stores"] == {"count": 0, "results": []}
    assert answer["fittings"] == {"count": 0, "customers": 0}
    assert (Incident.objects.count(), ScoreCard.objects.get().is_current) == (0, True)


@pytest.mark.parametrize(("effect", "state"), [({}, "held"), ({"effect": "void"}, "void")])
@pytest.mark.parametrize("is_proposed", [True, False])
def test_reviewer_carries_it_out_and_the_shoe_is_gone(lab, published, api_for, client, effect, state, is_proposed):
    if is_proposed or effect:  # to void them takes two
        assert send(api_for(lab.technician), dry_run=False, propose=True, **effect).status_code == 202
    response = send(api_for(lab.reviewer), dry_run=False, **effect)
    assert response.status_code == 201
    assert list(response.json()) == [*KEYS, "id"]
    assert set(BenchTest.objects.values_list("state", flat=True)) == {state}
    shoe = client.get(f"/api/catalogue/shoes/{lab.shoe.slug}/")
    assert shoe.status_code == 410
    assert (shoe.json()["state"], shoe.json()["reason"]) == ("withdrawn", "torque cell drifted")
    again = send(api_for(lab.reviewer), dry_run=False, **effect)
    assert (again.status_code, again.json()["code"]) == (409, "nothing_touched")


def test_technician_does_not_carry_it_out(lab, published, api_for):
    proposal = send(api_for(lab.technician), dry_run=False, propose=True)
    response = api_for(lab.technician).post(decide_address(proposal), {"decision": "carry_out"}, format="json")
    assert response.status_code == 403
    assert send(api_for(lab.technician), dry_run=False).status_code == 403
    assert send(api_for(lab.technician), dry_run=False, propose=True).json()["code"] == "already_proposed"
    assert set(BenchTest.objects.values_list("state", flat=True)) == {"approved"}


def decide_address(proposal, act="decide"):
    return f"{INCIDENTS}{proposal.json()['id']}/{act}/"


def test_to_void_tests_takes_two(lab, published, api_for):
    reviewer, second = api_for(lab.reviewer), api_for(person("second-reviewer", "reviewer"))
    proposal = send(reviewer, dry_run=False, effect="void")
    assert proposal.status_code == 202
    assert list(proposal.json()) == [*KEYS, "id", "detail"]
    assert "Another reviewer carries it out. Who can decide: second-reviewer." in proposal.json()["detail"]
    again, decide = send(reviewer, dry_run=False, effect="void"), decide_address(proposal)
    assert (again.status_code, again.json()["code"]) == (409, "already_proposed")
    own = reviewer.post(decide, {"decision": "carry_out"}, format="json")
    assert (own.status_code, own.json()["code"]) == (403, "own_proposal")
    assert set(BenchTest.objects.values_list("state", flat=True)) == {"approved"}
    done = second.post(decide, {"decision": "carry_out", "reason": "seen on the log too"}, format="json")
    assert (done.status_code, done.json()) == (
        200,
        {
            "id": proposal.json()["id"],
            "state": "carried_out",
            "decided_by": "second-reviewer",
            "reason": "seen on the log too",
        },
    )
    assert set(BenchTest.objects.values_list("state", flat=True)) == {"void"}
    late = reviewer.post(decide_address(proposal, "withdraw"), {"reason": "x"}, format="json")
    assert (late.status_code, late.json()["code"]) == (409, "already_decided")


def test_own_proposal_is_withdrawn_and_another_dismissed_with_a_reason(lab, published, api_for):
    technician, reviewer = api_for(lab.technician), api_for(lab.reviewer)
    own = send(technician, dry_run=False, propose=True)
    assert technician.post(decide_address(own, "withdraw"), {"reason": ""}, format="json").status_code == 400
    assert reviewer.post(decide_address(own, "withdraw"), {"reason": "x"}, format="json").status_code == 403
    withdrawn = technician.post(decide_address(own, "withdraw"), {"reason": "weight was right"}, format="json")
    assert (withdrawn.json()["state"], withdrawn.json()["reason"]) == ("dismissed", "weight was right")
    other = decide_address(send(technician, dry_run=False, propose=True))
    assert reviewer.post(other, {"decision": "dismiss"}, format="json").status_code == 400
    dismissed = reviewer.post(other, {"decision": "dismiss", "reason": "weight was right"}, format="json")
    assert (dismissed.status_code, dismissed.json()["decided_by"]) == (200, "reviewer")


def test_days_count_as_a_whole(lab, published, api_for):
    assert send(api_for(lab.technician), **{"from": "2026-03-04", "to": "2026-03-04"}).json()["tests"]["count"] == 2
    assert send(api_for(lab.technician), **{"from": "2026-03-05", "to": "2026-03-06"}).json()["tests"]["count"] == 0


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"rig": "rig-9"}, "rig"),
        ({"rig": "rig\x00"}, "rig"),
        ({"quantity": "smell"}, "quantity"),
        ({"from": "soon"}, "from"),
        ({"from": "2026-02-30"}, "from"),
        ({"from": 7}, "from"),
        ({"to": None}, "to"),
        ({"to": "2026-03-01"}, "to"),
        ({"from": "2300-01-01", "to": "2301-01-01"}, "from"),
        ({"reason": ""}, "reason"),
        ({"effect": "nothing"}, "effect"),
        ({"dry_run": "perhaps"}, "dry_run"),
    ],
)
def test_bad_input_is_named(lab, published, api_for, change, field):
    response = send(api_for(lab.technician), **change)
    assert response.status_code == 400, response.content
    assert field in response.json()["fields"]


def test_review_clears_a_doubt(lab, published, api_for):
    send(api_for(lab.technician), dry_run=False, propose=True)
    send(api_for(lab.reviewer), dry_run=False)
    address = f"/api/lab/tests/{published[0].pk}/review/"
    response = api_for(lab.reviewer).post(address, {"decision": "clear_doubt", "reason": "checked"}, format="json")
    assert (response.status_code, response.json()["state"]) == (200, "accepted")
    again = api_for(lab.reviewer).post(address, {"decision": "clear_doubt", "reason": "checked"}, format="json")
    assert again.status_code == 409


def test_voiding_by_the_api_withdraws_the_card(lab, api_for, client):
    only = lab.approved()
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first")
    address = f"/api/lab/tests/{only.pk}/review/"
    api_for(lab.reviewer).post(address, {"decision": "void", "reason": "wrong midsole"}, format="json")
    assert client.get(f"/api/catalogue/shoes/{lab.shoe.slug}/").json()["reason"] == "wrong midsole"
