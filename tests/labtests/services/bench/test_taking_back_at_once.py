"""Two reviewers at the very same moment: one wins, the other is informed, and nobody waits in a ring."""

from __future__ import annotations

import datetime as dt

import pytest

from catalogue.models import ScoreCard
from core.audit.verification import faults
from labtests import services
from labtests.models import BenchTest
from labtests.selectors.bench.incidents import Period
from tests.databases import at_once, committed_database
from tests.people import person

db = pytest.fixture(committed_database)


@pytest.fixture
def published(lab):
    tests = [lab.approved(specimen=f"F2-0{number}") for number in range(1, 4)]
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="all agree")
    return tests


def period_of(lab):
    return Period(
        lab.rig, "torque", dt.datetime(2026, 3, 1, tzinfo=dt.UTC), dt.datetime(2026, 3, 5, tzinfo=dt.UTC), "void"
    )


def test_of_two_reviewers_one_carries_the_incident_out(lab, published):
    other = person("second-reviewer", "reviewer")
    incident = services.incident_propose(actor=lab.technician, period=period_of(lab), reason="torque cell drifted")

    def carry_out(actor):
        services.incident_carry_out(actor=actor, incident=incident)
        return "carried out"

    assert at_once(carry_out, lab.reviewer, other) == ["already_decided", "carried out"]
    assert ScoreCard.objects.withdrawn().count() == 1
    assert list(faults()) == []


def test_decisions_on_tests_of_one_shoe_wait_for_each_other(lab, published):
    first, second, third = published
    incident = services.incident_propose(actor=lab.technician, period=period_of(lab), reason="torque cell drifted")

    def act(what):
        match what:
            case "publish":
                services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="again")
            case "incident":
                services.incident_carry_out(actor=lab.reviewer, incident=incident)
            case test:
                services.bench_test_void(actor=lab.reviewer, test=test, reason="wrong midsole")
        return "done"

    answer = at_once(act, third, first, second, "publish", "incident")
    # Whatever the order, the last one leaves nothing published that rests on a void test.
    assert set(answer) <= {"done", "already_reviewed", "nothing_touched", "not_publishable"}
    assert not BenchTest.objects.exclude(state="void").exists()
    assert not ScoreCard.objects.filter(is_current=True).exists()
    assert list(faults()) == []
