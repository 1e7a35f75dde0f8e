"""A reason with control characters is refused on the lab's pages and by its API, and nothing is changed."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from core.models import AuditEntry
from labtests import services
from labtests.models import State

CONTROLS = ["\x00", "\x07", "\x1b[2K", "\x7f"]


@pytest.fixture
def reviewer(lab, client):
    client.force_login(lab.reviewer)
    return client


@pytest.mark.parametrize("control", CONTROLS)
def test_page_of_a_test_refuses_it_and_shows_what_was_typed(reviewer, lab, control):
    test = lab.accepted()
    address = reverse("labtests:test-review", args=[test.pk])
    response = reviewer.post(address, {"decision": "void", "reason": f"the clamp{control} slipped"})
    assert response.status_code == 400
    assert "the clamp" in response.content.decode()
    test.refresh_from_db()
    assert test.state == State.ACCEPTED


@pytest.mark.parametrize("control", CONTROLS)
def test_one_decision_on_several_tests_refuses_it_once(reviewer, lab, control):
    tests = [lab.accepted(specimen=f"A-{number}") for number in range(2)]
    data = {"test": [test.pk for test in tests], "decision": "approve", "reason": f"fine{control}"}
    response = reviewer.post(reverse("labtests:tests-decide"), data)
    assert response.status_code == 400
    assert not AuditEntry.objects.filter(action="labtests.test.approved").exists()


@pytest.mark.parametrize("control", CONTROLS)
def test_check_shoe_is_not_retired_for_it(reviewer, lab, api_for, control):
    test = lab.accepted(specimen="CHK-1")
    services.check_shoe_designate(
        actor=lab.technician, rig=test.rig, specimen=test.specimen, since=dt.date(2026, 2, 1), reason="steady"
    )
    reason = {"reason": f"torn{control}"}
    assert reviewer.post(reverse("labtests:check-retire", args=["rig-1"]), reason).status_code == 400
    answer = api_for(lab.reviewer).post("/api/lab/rigs/rig-1/check/retire/", reason, format="json")
    assert answer.status_code == 400
    assert "reason" in answer.json()["fields"]


@pytest.mark.parametrize("control", CONTROLS)
@pytest.mark.parametrize("decision", ["approve", "void", "hold"])
def test_api_refuses_it(lab, api_for, decision, control):
    test = lab.accepted()
    body = {"decision": decision, "reason": f"the clamp{control} slipped"}
    answer = api_for(lab.reviewer).post(f"/api/lab/tests/{test.pk}/review/", body, format="json")
    assert answer.status_code == 400
    assert "control characters" in answer.content.decode() or "Null characters" in answer.content.decode()
