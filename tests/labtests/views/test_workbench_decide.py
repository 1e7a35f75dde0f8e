"""One decision on several tests: each by itself, with its reason where it is refused."""

from __future__ import annotations

import pytest
from django.urls import reverse

from core.models import AuditEntry
from labtests import services
from labtests.models import BenchTest, State
from labtests.services.deciding import MOST_TESTS
from tests.shared import shared


@pytest.fixture
def reviewer(lab, client):
    client.force_login(lab.reviewer)
    return client


@shared
def mixed(lab):
    """A test that may be approved, one that is held, one of the reviewer's own, one that is approved already."""
    return [
        lab.accepted(specimen="A-1"),
        lab.accepted(specimen="A-2", temperature="30 degC"),
        lab.accepted(specimen="A-3", operator="reviewer"),
        lab.approved(specimen="A-4"),
    ]


def decide(client, tests, decision="approve", reason=""):
    data = {"test": [test.pk for test in tests], "decision": decision, "reason": reason}
    return client.post(reverse("labtests:tests-decide"), data)


def test_each_test_is_decided_by_itself_and_refusals_say_why(reviewer, lab, mixed):
    response = decide(reviewer, mixed)
    assert [one.code for one, _ in response.context["decided"]] == ["", "held", "own_test", "already_reviewed"]
    assert "1 of 4 decisions are on record" in response.content.decode()
    states = BenchTest.objects.order_by("pk").values_list("state", flat=True)
    assert list(states) == [State.APPROVED, State.HELD, State.ACCEPTED, State.APPROVED]


def test_each_decision_has_an_entry_of_its_own(reviewer, lab):
    tests = [lab.accepted(specimen=f"A-{number}") for number in range(3)]
    decide(reviewer, tests, "void", "the clamp slipped")
    entries = AuditEntry.objects.filter(action="labtests.test.voided")
    assert sorted(entry.object_id for entry in entries) == sorted(str(test.pk) for test in tests)
    assert {entry.content["reason"] for entry in entries} == {"the clamp slipped"}


def test_chosen_tests_are_shown_before_anything_is_decided(reviewer, mixed):
    response = reviewer.get(reverse("labtests:tests-decide"), {"test": [mixed[1].pk, mixed[0].pk, "x", "²", "9" * 40]})
    assert [test.pk for test, _ in response.context["lines"]] == [mixed[1].pk, mixed[0].pk]
    assert BenchTest.objects.filter(state=State.APPROVED).count() == 1


def test_decision_without_a_reason_or_without_tests_is_refused(reviewer, mixed):
    assert "Give a reason" in decide(reviewer, mixed[:1], "void").content.decode()
    assert decide(reviewer, []).status_code == 400
    assert decide(reviewer, mixed, "praise").status_code == 400
    assert mixed[0].state == BenchTest.objects.get(pk=mixed[0].pk).state


def test_technician_can_not_decide(lab, client, mixed):
    client.force_login(lab.technician)
    assert decide(client, mixed).status_code == 403
    assert "Decide on them together" not in client.get(reverse("labtests:test-list")).content.decode()


def test_page_takes_the_same_queries_however_many(reviewer, lab, django_assert_max_num_queries):
    tests = [lab.accepted(specimen=f"A-{number}") for number in range(6)]
    with django_assert_max_num_queries(8):
        reviewer.get(reverse("labtests:tests-decide"), {"test": [test.pk for test in tests]})


def test_api_decides_on_several_and_names_a_number_that_no_test_has(lab, mixed, api_for):
    body = {"tests": [mixed[0].pk, 424242, mixed[1].pk], "decision": "approve"}
    answer = api_for(lab.reviewer).post("/api/lab/tests/decide/", body, format="json")
    assert answer.status_code == 200
    assert answer.json()["done"] == 1
    assert [(row["test"], row["code"], row["state"]) for row in answer.json()["results"]] == [
        (mixed[0].pk, "", "approved"),
        (424242, "not_found", None),
        (mixed[1].pk, "held", "held"),
    ]


@pytest.mark.parametrize(
    "body",
    [
        {"tests": [], "decision": "void", "reason": "x"},
        {"tests": [1] * (MOST_TESTS + 1), "decision": "void", "reason": "x"},
        {"tests": [2**70], "decision": "void", "reason": "x"},
        {"tests": "1", "decision": "void", "reason": "x"},
        {"tests": [1], "decision": "praise"},
    ],
)
def test_api_refuses_a_body_that_makes_no_sense(lab, api_for, body):
    assert api_for(lab.reviewer).post("/api/lab/tests/decide/", body, format="json").status_code == 400


def test_service_refuses_too_many_and_unknown_decisions(lab, mixed):
    from core.domain.errors import DomainError

    for tests, decision, code in (
        (mixed[:1] * (MOST_TESTS + 1), "void", "too_many"),
        (mixed[:1], "praise", "invalid"),
        ([], "void", "no_tests"),
    ):
        with pytest.raises(DomainError) as problem:
            services.bench_tests_decide(actor=lab.reviewer, tests=tests, decision=decision, reason="x")
        assert problem.value.code == code
