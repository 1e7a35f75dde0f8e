"""Pages of taking back: an incident from proposal to decision, the stop of a rig, a replaced test."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labtests import services
from labtests.models import BenchTest, Incident, Rig
from labtests.selectors.bench.incidents import Period
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.labtests.views.lab_pages import page, text_of
from tests.shared import shared


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@pytest.fixture
def reviewer(lab, client):
    client.force_login(lab.reviewer)
    return client


@shared
def published(lab):
    tests = [lab.approved(specimen="F2-01"), lab.approved(specimen="F2-02", torque_15=5.4)]
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="both agree")
    return tests


def given(**change):
    return {
        "rig": "rig-1",
        "quantity": "torque",
        "begins_at": "2026-03-04T00:00",
        "ends_at": "2026-03-05T00:00",
        "effect": "doubt",
        "reason": "torque cell drifted",
    } | change


def proposed(lab, actor=None, **change):
    ends = dt.datetime(2026, 3, 5, tzinfo=dt.UTC)
    period = Period(lab.rig, "torque", ends - dt.timedelta(days=2), ends, **change)
    return services.incident_propose(actor=actor or lab.technician, period=period, reason="torque cell drifted")


def decide(client, incident, **body):
    return client.post(reverse("labtests:incident-decide", args=[incident.pk]), body)


def test_technician_sees_what_it_touches_before_proposing(technician, lab, published):
    address = reverse("labtests:incident-create")
    assert 'value="rig-1" selected' in text_of(technician.get(address, {"rig": "rig-1"}))
    seen = text_of(technician.post(address, given(preview="")))
    assert "Fenrunner 2" in seen
    assert "withdrawn" in seen
    assert not Incident.objects.exists()
    answer = technician.post(address, given(propose=""))
    incident = Incident.objects.get()
    assert answer.url == reverse("labtests:incident-detail", args=[incident.pk])
    shown = page(technician, "incident-detail", incident.pk)
    assert "What carrying it out would touch now" in shown
    assert "Record the decision" not in shown
    assert "Who can decide: reviewer." in shown
    assert decide(technician, incident, decision="carry_out").status_code == 403


def test_reviewer_carries_it_out(reviewer, lab, published):
    incident = proposed(lab)
    assert "Record the decision" in page(reviewer, "incident-detail", incident.pk)
    assert decide(reviewer, incident, decision="carry_out").status_code == 302
    assert set(BenchTest.objects.values_list("state", flat=True)) == {"held"}
    assert "What it touched" in page(reviewer, "incident-detail", incident.pk)
    again = decide(reviewer, incident, decision="carry_out")
    assert again.status_code == 400
    assert "already carried out by reviewer" in text_of(again)
    assert "carried out" in page(reviewer, "incident-list")


def test_reviewer_puts_tests_in_doubt_alone(reviewer, lab, published):
    incident = proposed(lab, actor=lab.reviewer)
    assert "You proposed it. A reviewer carries it out" in page(reviewer, "incident-detail", incident.pk)
    assert decide(reviewer, incident, decision="carry_out").status_code == 302
    assert set(BenchTest.objects.values_list("state", flat=True)) == {"held"}


def test_reviewer_who_proposed_to_void_is_offered_to_withdraw_it(reviewer, lab, published):
    incident = proposed(lab, actor=lab.reviewer, effect="void")
    shown = page(reviewer, "incident-detail", incident.pk)
    assert "Record the decision" not in shown
    assert "No other reviewer can" in shown
    assert "published scores stay as they are" in shown
    refused = decide(reviewer, incident, decision="carry_out")
    assert (refused.status_code, "Another reviewer has to carry it out" in text_of(refused)) == (400, True)
    withdraw = reverse("labtests:incident-withdraw", args=[incident.pk])
    assert reviewer.post(withdraw, {"reason": ""}).status_code == 400
    assert reviewer.post(withdraw, {"reason": "weight was right"}).status_code == 302
    assert "Withdrawn" in page(reviewer, "incident-detail", incident.pk)
    assert set(BenchTest.objects.values_list("state", flat=True)) == {"approved"}


def test_dismissing_needs_a_reason(reviewer, lab, published):
    incident = proposed(lab)
    assert ">optional<" not in page(reviewer, "incident-detail", incident.pk), "the hint says when the reason is needed"
    assert decide(reviewer, incident, decision="dismiss").status_code == 400
    assert decide(reviewer, incident, decision="dismiss", reason="weight was right").status_code == 302
    assert "weight was right" in page(reviewer, "incident-detail", incident.pk)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"rig": "no-such"}, "not one of the choices"),
        ({"begins_at": "soon"}, "Enter a valid date"),
        ({"ends_at": "2026-03-01T00:00"}, "before the beginning"),
        ({"reason": ""}, "Fill in “Why”."),
        ({"begins_at": "2026-03-05T00:00", "propose": ""}, "There is nothing to take back"),
    ],
)
def test_bad_incident_is_explained(technician, lab, published, change, words):
    response = technician.post(reverse("labtests:incident-create"), given(**change))
    assert response.status_code == 400
    assert words in text_of(response)


def test_pages_take_the_same_queries_however_much_is_touched(reviewer, lab, django_assert_max_num_queries):
    for number in range(4):
        lab.approved(specimen=f"A-{number}")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="agree")
    incident = proposed(lab)
    with django_assert_max_num_queries(28):
        page(reviewer, "incident-detail", incident.pk)
    with django_assert_max_num_queries(8):
        page(reviewer, "incident-list")


def test_stop_asks_since_when_and_lists_what_that_reaches(technician, lab, published):
    address = reverse("labtests:rig-stop", args=["rig-1"])
    assert "2 tests</a>. Published shoes that rest on them: 1" in text_of(technician.get(address))
    later = text_of(technician.get(address, {"since": "2026-03-05T00:00"}))
    assert "0 tests</a>. Published shoes that rest on them: 0" in later
    assert technician.get(address, {"since": "soon"}).status_code == 400
    assert technician.post(address, {"since": "2026-03-03T08:00", "reason": "arm loose"}).status_code == 302
    rig = Rig.objects.get()
    assert rig.stopped_since is not None
    shown = page(technician, "rig-detail", "rig-1")
    assert "its tests made after 3 March 2026" in shown
    assert "new-incident/?rig=rig-1&amp;begins_at=2026-03-03T08:00" in shown


def test_stop_in_the_future_is_refused(technician, lab):
    address = reverse("labtests:rig-stop", args=["rig-1"])
    response = technician.post(address, {"since": "2300-01-01T08:00", "reason": "arm loose"})
    assert response.status_code == 400
    assert "is in the future" in text_of(response)
    assert not Rig.objects.get().is_stopped


def test_test_page_names_the_published_card_before_voiding(reviewer, lab, published):
    shown = page(reviewer, "test-detail", published[0].pk)
    assert "Published scores rest on it" in shown
    assert "1 specimen, published from 2" in shown


def test_replacement_shows_what_differs_and_what_follows(reviewer, lab, published, django_assert_max_num_queries):
    replaced = published[0]
    address = reverse("labtests:test-amend", args=[replaced.pk])
    assert "They stay as they are until then" in text_of(reviewer.get(address))
    data = bench_bytes(curve_rows([(6.2, 5.9)] * 3))
    successor = services.bench_test_amend(
        actor=lab.technician, test=replaced, name="b.csv", data=data, reason="torque offset"
    )
    with django_assert_max_num_queries(45):
        shown = page(reviewer, "test-detail", successor.pk)
    assert "Differences, this test less the one that it replaces" in shown
    assert "the published scores become" in shown
    assert "It counts until a reviewer accepts its successor" in page(reviewer, "test-detail", replaced.pk)


def test_technician_is_not_promised_that_the_test_is_replaced(technician, lab, published):
    address = reverse("labtests:test-amend", args=[published[0].pk])
    data = bench_bytes(curve_rows([(5.3, 5.9)] * 3))
    file = SimpleUploadedFile("b.csv", data)
    answer = technician.post(address, {"file": file, "reason": "torque offset"}, follow=True)
    assert "counts until a reviewer accepts it" in text_of(answer)


def test_review_of_a_test_in_doubt_offers_to_clear_it(reviewer, lab, published):
    services.incident_carry_out(actor=lab.reviewer, incident=proposed(lab))
    test = published[0]
    assert "Clear the doubt of the incident" in page(reviewer, "test-detail", test.pk)
    address = reverse("labtests:test-review", args=[test.pk])
    assert reviewer.post(address, {"decision": "clear_doubt", "reason": "checked"}).status_code == 302
    test.refresh_from_db()
    assert test.state == "accepted"
