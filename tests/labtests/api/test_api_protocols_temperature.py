"""The API of protocols and temperature studies does what their pages do."""

from __future__ import annotations

import pytest

from labtests.models import Protocol, ProtocolDraft
from tests.people import person

PROTOCOLS, STUDIES = "/api/lab/protocols/", "/api/lab/temperature-studies/"


@pytest.fixture
def reviewer(lab, api_for):
    return api_for(lab.reviewer)


def body_of(protocol, **change):
    numbers = ("torsion_deg", "compression_n", "repeats_wanted", "calibrations")
    return {**protocol["limits"], **{name: protocol[name] for name in numbers}, "reason": "tried", **change}


def test_draft_is_made_changed_tried_and_adopted_by_another_reviewer(reviewer, lab, api_for):
    test = lab.accepted()
    base = reviewer.get(f"{PROTOCOLS}P1/").json()
    made = reviewer.post(PROTOCOLS, body_of(base, version="P2", compression_n=380.0), format="json")
    assert (made.status_code, made.json()["state"], made.json()["revision"]) == (201, "draft", 1)
    changed = reviewer.put(f"{PROTOCOLS}P2/", body_of(base, revision=1, repeats_wanted=9), format="json")
    assert (changed.status_code, changed.json()["repeats_wanted"], changed.json()["revision"]) == (200, 9, 2)
    run = reviewer.get(f"{PROTOCOLS}P2/dry-run/").json()
    assert [(held["test"], held["reasons"][0]["code"]) for held in run["held"]] == [(test.pk, "repeats")]
    said = {"revision": 2, "reason": "agreed"}
    own = reviewer.post(f"{PROTOCOLS}P2/adopt/", said, format="json")
    assert (own.status_code, own.json()["code"]) == (403, "own_draft")
    other = api_for(person("second", "reviewer"))
    assert other.post(f"{PROTOCOLS}P2/adopt/", said, format="json").json()["state"] == "current"
    assert [row["version"] for row in reviewer.get(PROTOCOLS).json()["results"]] == ["P2", "P1"]
    assert Protocol.objects.get(is_current=True).repeats_wanted == 9


def test_protocol_that_cannot_be_is_refused_by_field_and_key(reviewer):
    base = reviewer.get(f"{PROTOCOLS}P1/").json()
    bad = reviewer.post(PROTOCOLS, body_of(base, version="P2", torsion_deg=90.0), format="json")
    assert (bad.status_code, bad.json()["code"], list(bad.json()["fields"])) == (400, "bad_protocol", ["torsion_deg"])
    unknown = reviewer.post(PROTOCOLS, body_of(base, version="P2", twist=3), format="json")
    assert (unknown.status_code, list(unknown.json()["fields"])) == (400, ["twist"])
    assert not ProtocolDraft.objects.exists()


def test_draft_is_discarded_once(reviewer):
    base = reviewer.get(f"{PROTOCOLS}P1/").json()
    reviewer.post(PROTOCOLS, body_of(base, version="P2"), format="json")
    answers = [reviewer.post(f"{PROTOCOLS}P2/discard/", {"reason": "no"}, format="json") for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 409]
    assert reviewer.post(f"{PROTOCOLS}P1/discard/", {"reason": "no"}, format="json").status_code == 404


def test_temperature_study_is_planned_read_and_discarded(lab, api_for):
    test = lab.accepted(specimen="F2-01")
    technician = api_for(lab.technician)
    plan = {
        "title": "Warm foam",
        "rig": lab.rig.code,
        "specimen": "F2-01",
        "begins_on": "2026-03-01",
        "reason": "yearly",
    }
    made = technician.post(STUDIES, plan, format="json")
    assert (made.status_code, made.json()["state"]) == (201, "open")
    study = made.json()["id"]
    shown = technician.get(f"{STUDIES}{study}/").json()
    assert [row["test"] for row in shown["tests"]] == [test.pk]
    assert (shown["coefficients"], set(shown["problems"])) == ({}, {"torque", "deflection", "work"})
    early = technician.post(f"{STUDIES}{study}/propose/", {"reason": "done"}, format="json")
    assert (early.status_code, early.json()["code"]) == (409, "incomplete")
    assert technician.post(f"{STUDIES}{study}/discard/", {"reason": "no"}, format="json").json()["state"] == "discarded"
    assert technician.get(STUDIES).json()["count"] == 1
    missing = technician.post(STUDIES, {**plan, "specimen": "F2-99"}, format="json")
    assert (missing.status_code, list(missing.json()["fields"])) == (400, ["specimen"])
