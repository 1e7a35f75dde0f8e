"""Approved tests whose hours the conditioning log does not bear out any more: nothing is published of them silently."""

from __future__ import annotations

import pytest
from django.urls import reverse
from django.utils import timezone

from catalogue.models import ScoreCard
from core.domain.errors import DomainError
from labtests import services
from labtests.models import BenchTest, ScoringModel
from labtests.selectors.bench.conditioning_doubts import conditioning_doubts, doubted_approvals
from tests.labtests.services.bench.test_conditioning_log import NEW, put_in, take_out
from tests.shared import shared


@shared
def chamber(lab):
    return services.chamber_create(actor=lab.reviewer, code="C-1", name="Walk-in room")


@shared
def entry(lab, chamber):
    return put_in(lab, chamber)


@shared
def approved(lab, entry):
    return lab.approved()


def refused(lab):
    with pytest.raises(DomainError) as caught:
        services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")
    assert not ScoreCard.objects.exists()
    return " ".join(caught.value.fields["reasons"])


def test_hours_from_the_log_as_it_is_are_published(lab, approved):
    assert services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests").specimens == 1
    assert doubted_approvals() == []


def test_struck_entry_refuses_publishing_until_it_is_written_again(lab, chamber, entry, approved):
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="it was F2-02")
    answer = refused(lab)
    assert f"Test {approved.pk} of F2-01 is in doubt: the entry of the conditioning log" in answer
    assert "Write the stay into the log as it was" in answer
    put_in(lab, chamber)
    assert services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="repaired").specimens == 1


def test_stay_written_again_otherwise_is_reported_with_both_values(lab, chamber, entry, approved):
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="wrong day")
    put_in(lab, chamber, before_h=20)
    assert "the conditioning log gives 20.00 h, it was approved with 50.20 h" in refused(lab)


def test_stay_within_the_tolerance_but_below_the_protocol_refuses(lab, chamber):
    entry = put_in(lab, chamber, before_h=48.2)
    lab.approved(conditioned="48.2 h")
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="wrong time")
    put_in(lab, chamber, before_h=47.8)
    assert "gives 47.80 h; accepted: at least 48 h" in refused(lab)


def test_entry_noted_after_approval_contradicts_a_claim(lab, chamber):
    test = lab.approved()
    put_in(lab, chamber, before_h=10, at=timezone.now())
    assert [doubt.test for doubt in doubted_approvals()] == [test]
    assert "gives 10.00 h" in refused(lab)


def test_end_noted_later_that_is_before_the_test_is_found(lab, entry, approved):
    take_out(lab, entry, before_h=5)
    assert [doubt.test for doubt in doubted_approvals()] == [approved]
    assert "5.00 h before the test" in refused(lab)


def test_voiding_the_test_mends_it_too(lab, entry, approved):
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="it was F2-02")
    services.bench_test_void(actor=lab.reviewer, test=approved, reason="not conditioned")
    assert doubted_approvals() == []


def test_test_that_waits_is_not_approved_while_the_log_contradicts_it(lab, chamber):
    test = lab.accepted()
    put_in(lab, chamber, before_h=10)
    with pytest.raises(DomainError) as caught:
        services.bench_test_approve(actor=lab.reviewer, test=test, reason="")
    assert (caught.value.code, caught.value.status) == ("conditioning_doubted", 409)
    test.refresh_from_db()
    assert test.state == "accepted"


def test_dry_run_of_a_model_names_the_card_that_would_go(lab, entry, approved):
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="it was F2-02")
    current = ScoringModel.objects.get(is_current=True)
    draft = services.model_draft_create(actor=lab.reviewer, version="S2", reason="try", source=current)
    (shoe,) = services.draft_dry_run(draft).refused
    assert "is in doubt" in shoe.refusals[0]


def test_bench_day_and_test_page_say_so(lab, client, entry, approved):
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="it was F2-02")
    client.force_login(lab.technician)
    day = client.get(reverse("labtests:bench-day")).content.decode()
    assert "Approved, and now in doubt" in day
    assert "the entry of the conditioning log that its hours came from was struck" in day
    assert "is in doubt" in client.get(reverse("labtests:test-detail", args=[approved.pk])).content.decode()
    answer = client.get("/api/lab/bench/").json()["in_doubt"]
    assert [(one["test"], one["specimen"]) for one in answer] == [(approved.pk, "F2-01")]


def test_it_takes_two_queries_however_many(lab, chamber, django_assert_num_queries):
    for n in range(4):
        specimen = f"F2-1{n}"
        put_in(lab, chamber, specimen=services.SpecimenGiven(specimen, "fenrunner-2", NEW.size_eu, "left"))
        lab.approved(specimen=specimen)
    with django_assert_num_queries(2):
        assert conditioning_doubts(BenchTest.objects.all()) == {}
