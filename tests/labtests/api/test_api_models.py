"""The API of scoring models: what a program reads, tries and adopts, and what it is refused with."""

from __future__ import annotations

import pytest

from catalogue.standard import SCALE_S1
from labtests import services
from labtests.domain.scores.model_rules import NUMBERS, BandText
from labtests.models import ScoringModel
from tests.shared import shared

MODELS = "/api/lab/models/"


@shared
def draft(lab):
    from core.gate.access import Role
    from core.models import Membership, User

    author = User.objects.create(username="author")
    Membership.objects.create(user=author, role=Role.REVIEWER)
    current = ScoringModel.objects.get(is_current=True)
    draft = services.model_draft_create(actor=author, version="S2", reason="new references", source=current)
    bands = [BandText("Soft", 45.0, "some"), BandText("Hard", None, "others")]
    numbers = {name: getattr(draft, name) for name in NUMBERS} | {"torque_100_nm": 8.0}
    return services.model_draft_edit(
        actor=author, draft=draft, revision=1, numbers=numbers, bands=bands, reason="new references"
    )


@pytest.fixture
def reviewer(lab, api_for):
    return api_for(lab.reviewer)


def adopt(client, **body):
    return client.post(f"{MODELS}S2/adopt/", {"revision": 2, "reason": "agreed", **body}, format="json")


def test_list_and_detail_show_models_and_drafts(reviewer, draft):
    body = reviewer.get(MODELS).json()
    assert [(model["version"], model["state"]) for model in body["results"]] == [("S1", "current"), ("S2", "draft")]
    detail = reviewer.get(f"{MODELS}S2/").json()
    assert detail["numbers"]["torque_100_nm"] == 8.0
    assert (detail["author"], detail["revision"], detail["adoption"]) == ("author", 2, None)
    assert [(band["name"], band["lower"], band["upper"]) for band in detail["bands"]] == [
        ("Soft", None, 45.0),
        ("Hard", 45.0, None),
    ]
    assert reviewer.get(f"{MODELS}S1/").json()["bands"][0]["name"] == SCALE_S1[0][1]
    assert reviewer.get(f"{MODELS}S9/").status_code == 404


def test_dry_run_shows_every_published_shoe(reviewer, draft, lab):
    lab.approved()
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first")
    body = reviewer.get(f"{MODELS}S2/dry-run/").json()
    assert (body["tests"], body["revision"]) == (1, 2)
    assert sum(map(sum, body["tests_by_band"])) == 1
    shoe = body["shoes"][0]
    assert shoe["shoe"] == "fenrunner-2"
    assert shoe["then"]["stability"] > shoe["now"]["stability"]
    assert shoe["changes_band"]
    assert body["cautions"]
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="drifted")
    assert reviewer.get(f"{MODELS}S2/dry-run/").json()["shoes"][0]["then"] is None


def test_adoption_answers_201_and_sent_again_200_with_the_same(reviewer, draft, lab):
    lab.approved()
    first, again = adopt(reviewer), adopt(reviewer)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert first.json()["tests"] == 1
    assert reviewer.get(f"{MODELS}S2/").json()["state"] == "current"
    assert reviewer.get("/api/lab/tests/").json()["results"][0]["scoring_model"] == "S2"
    assert reviewer.get(f"{MODELS}S2/dry-run/").json()["code"] == "not_a_draft"


def test_refusals_have_their_codes(reviewer, draft, lab, api_for):
    own = api_for(draft.author)
    assert (adopt(own).status_code, adopt(own).json()["code"]) == (403, "own_draft")
    assert (adopt(reviewer, revision=1).status_code, adopt(reviewer, revision=1).json()["code"]) == (
        409,
        "draft_changed",
    )
    assert adopt(reviewer, reason="").status_code == 400
    assert adopt(reviewer, revision="x").status_code == 400
    lab.approved()
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first")
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="drifted")
    refused = adopt(reviewer)
    assert (refused.status_code, refused.json()["code"]) == (409, "cards_would_go")
    assert "drifted" in refused.json()["fields"]["withdraw"][0]
    assert adopt(reviewer, withdraw=True).json()["withdrawn"][0]["shoe"] == "fenrunner-2"


def test_technician_reads_and_does_not_adopt(draft, lab, api_for):
    technician = api_for(lab.technician)
    assert technician.get(f"{MODELS}S2/dry-run/").status_code == 200
    assert adopt(technician).status_code == 403
