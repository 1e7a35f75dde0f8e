"""The customer's page: everything on one page, and what is corrected or noted from there."""

from __future__ import annotations

import datetime as dt
import html
import re

import pytest
from django.utils import timezone

from catalogue.models import FaultReport, ScoreCard
from core.gate.access import Role
from core.models import AuditEntry, Membership
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.people.recurrence import Pain
from fittings.models import Choice, Consent, Customer, Fitting, FollowUp, SupersededAnswer
from fittings.services import choice_correct, choice_record, follow_up_amend, follow_up_answer
from tests.shared import shared


def text_of(response):
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode())))


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


@shared
def fitting(chosen, make_shoe):
    make_shoe("other", 66.0)
    return chosen(at=timezone.now() - dt.timedelta(weeks=7))


def page(fitting):
    return f"/fittings/customers/{fitting.customer_id}/"


def answer(fitting, weeks, **said):
    given = FollowUpAnswer(**said)
    follow_up = fitting.follow_ups.get(weeks=weeks, pair=1)
    at = fitting.at + dt.timedelta(weeks=weeks)
    return follow_up_answer(actor=None, follow_up=follow_up, answer=given, at=at)


def test_page_has_the_last_shoe_every_answer_and_what_was_then(fitter, fitting, cast):
    first = answer(fitting, 2, wearing=True, comfort=4, comment="rubs", saw_clinician=False)
    amended = FollowUpAnswer(wearing=True, comfort=7, pain=(Pain("heel", "left", 3),), saw_clinician=True)
    follow_up_amend(actor=cast.fitter_a, follow_up=first, answer=amended, reason="misheard")
    choice_correct(
        actor=cast.fitter_a, choice=fitting.choice, kind="exchange", slug="other", size="EU 43", reason="too short"
    )
    text = text_of(fitter.get(page(fitting)))
    for words in (
        "Last shoe Brand other , EU 43",
        "Nothing was answered about it yet.",
        "Brand in-target , EU 42.5",
        "exchanged on",
        "too short",
        "heel, left 3 of 10",
        "Saw a clinician: yes",
        "Amended by fitter-a",
        "misheard Before: wears them: yes; comfort 4; saw a clinician: no; comment: rubs.",
        "Stop signs none of them",
        "52 weeks",
    ):
        assert words in text, words


def test_many_fittings_answers_and_pairs_cost_no_more_queries(
    fitter, fitting, chosen, cast, django_assert_max_num_queries
):
    answer(fitting, 2, comfort=5)
    for weeks in range(1, 4):
        more = chosen(at=fitting.at + dt.timedelta(weeks=weeks))
        answer(more, 2, comfort=5, pain=(Pain("heel", "left", 2),))
        choice_record(actor=cast.fitter_a, fitting=more, slug="other", size="EU 43", another_pair=True)
        choice_correct(
            actor=cast.fitter_a, choice=more.choice, kind="exchange", slug="other", size="EU 43", reason="short"
        )
    fitter.get(page(fitting))
    with django_assert_max_num_queries(12):
        fitter.get(page(fitting))


def test_contact_is_noted_and_leaves_the_follow_ups_as_they_are(fitter, fitting):
    address = page(fitting) + "contact/"
    assert "The follow-ups stay as they are." in text_of(fitter.get(address))
    row = {"pain-0-region": "heel", "pain-0-side": "left", "pain-0-score": "6"}
    sent = {"comment": "calls in pain after three weeks", "saw_clinician": "no"} | row
    assert fitter.post(address, sent).status_code == 302
    noted = FollowUp.objects.get(weeks=0)
    assert (noted.comment, noted.saw_clinician, noted.pains.get().score) == (sent["comment"], False, 6)
    assert FollowUp.objects.due(timezone.localdate()).get().weeks == 6
    text = text_of(fitter.get(page(fitting)))
    assert "Contact: " in text
    assert "calls in pain after three weeks" in text


def test_empty_contact_is_refused(fitter, fitting):
    refused = fitter.post(page(fitting) + "contact/", {})
    assert refused.status_code == 400
    assert "Answer at least one of the questions." in text_of(refused)


def test_answers_are_amended_from_the_page(fitter, fitting):
    wrong = answer(fitting, 2, comfort=1)
    address = f"/fittings/follow-ups/{wrong.pk}/amend/"
    assert fitter.get(address).status_code == 200
    assert fitter.post(address, {"comfort": "8"}).status_code == 400
    assert fitter.post(address, {"comfort": "8", "reason": "misheard"}).status_code == 302
    assert FollowUp.objects.get(pk=wrong.pk).comfort == 8
    assert SupersededAnswer.objects.get().answers["comfort"] == 1


def test_name_and_store_are_corrected(fitter, fitting, cast):
    address = page(fitting) + "correct/"
    assert fitter.post(address, {"name": "Ada", "email": "nowhere"}).status_code == 400
    assert fitter.post(address, {"name": "Ada B.", "email": "", "phone": "12 34"}).status_code == 302
    assert (Customer.objects.get().name, Customer.objects.get().phone) == ("Ada B.", "12 34")
    assert fitter.post(page(fitting) + "move/", {"store": "store-b"}).status_code == 404
    Membership.objects.create(user=cast.fitter_a, store=cast.store_b, role=Role.FITTER)
    assert "Move to Store B" in text_of(fitter.get(address))
    assert fitter.post(page(fitting) + "move/", {"store": "store-b"}).status_code == 302
    assert Fitting.objects.get().store == cast.store_b


def test_person_recorded_twice_is_merged_from_the_page(fitter, fitting, chosen):
    other = chosen(name="Ada Exampel", email="")
    address = page(fitting) + "merge/"
    assert "No other record with this name" in text_of(fitter.get(address))
    assert "Ada Exampel" in text_of(fitter.post(address, {"words": "exampel"}))
    assert fitter.post(address, {"duplicate": other.customer_id + 99}).status_code == 404
    assert fitter.post(address, {"duplicate": other.customer_id}).status_code == 302
    assert Customer.objects.get().fittings.count() == 2


def test_choice_is_exchanged_from_the_fittings_page(fitter, fitting):
    first = fitting.choice
    detail = fitter.get(f"/fittings/{fitting.pk}/").content.decode()
    address = f"/fittings/{fitting.pk}/choice/{first.pk}/correct/"
    assert address in detail
    assert f"/fittings/customers/{fitting.customer_id}/" in detail
    assert fitter.get(address).status_code == 200
    refused = fitter.post(address, {"kind": "exchange", "reason": "too short"})
    assert (refused.status_code, "Name the shoe and size" in text_of(refused)) == (400, True)
    sent = {"kind": "exchange", "reason": "too short", "slug": "other", "size": "EU 43", "restock": "on"}
    assert fitter.post(address, sent).status_code == 302
    again = fitter.post(address, sent)
    assert (again.status_code, "already taken back" in text_of(again)) == (400, True)
    assert Choice.objects.count() == 2
    assert fitter.get(f"/fittings/{fitting.pk}/choice/{first.pk + 99}/correct/").status_code == 404


def test_another_pair_is_recorded_from_the_fittings_page(fitter, fitting):
    sent = {"choice-slug": "other", "choice-size": "EU 43", "another_pair": "on"}
    assert fitter.post(f"/fittings/{fitting.pk}/choice/", sent).status_code == 302
    text = text_of(fitter.get(f"/fittings/{fitting.pk}/"))
    assert "Pair 1" in text
    assert "Pair 2" in text


def test_lab_reads_and_answers_a_fault(fitting, cast, sign_in):
    choice_correct(actor=cast.fitter_a, choice=fitting.choice, kind="fault", reason="The eyelet tore out")
    report = FaultReport.objects.get()
    lab = sign_in(cast.technician)
    listed = text_of(lab.get("/catalogue/faults/"))
    assert "The eyelet tore out" in listed
    assert "Ada" not in listed
    address = f"/catalogue/faults/{report.pk}/"
    assert lab.post(address, {"answer": ""}).status_code == 400
    assert lab.post(address, {"answer": "Told the maker"}).status_code == 302
    assert lab.post(address, {"answer": "Again"}).status_code == 400
    report.refresh_from_db()
    assert (report.answer, report.answered_by) == ("Told the maker", cast.technician)
    assert "Told the maker" in text_of(lab.get("/catalogue/faults/"))


def test_new_fitting_opens_with_the_customer_and_what_was_last_time(fitter, fitting, chosen, cast):
    response = fitter.get(f"/fittings/new/?customer={fitting.customer_id}", follow=True)
    text = text_of(response)
    for words in (
        "Ada Example, last time.",
        "Agreed to wording C2",
        "Complaints heel, left (settled 31 January 2025)",
        "Stop signs none of them",
        "Shoe chosen Brand in-target, EU 42.5",
    ):
        assert words in text, words
    # Shown, and nothing of it entered.
    assert not re.search(r'value="heel"\s+selected', response.content.decode())
    other = chosen(name="Of Another Store", email="", store=cast.store_b, actor=cast.fitter_b)
    assert "last time" not in text_of(fitter.get(f"/fittings/new/?customer={other.customer_id}", follow=True))


def test_older_wording_is_asked_again(fitter, fitting):
    Consent.objects.update(text_version="C1")
    text = text_of(fitter.get(f"/fittings/new/?customer={fitting.customer_id}", follow=True))
    assert "Agreed to wording C1 (an older one: ask again)" in text


def test_fitting_shows_what_was_advised_then_whatever_is_published_now(fitter, api_for, cast, body, make_shoe):
    make_shoe("in-target", 71.0, stock={cast.store_a: ["42.5"]})
    pk = api_for(cast.fitter_a).post("/api/fittings/", body(), format="json").json()["id"]
    ScoreCard.objects.update(is_current=False)
    text = text_of(fitter.get(f"/fittings/{pk}/"))
    assert "What was advised at the fitting Brand in-target: stability 71.0, in the target" in text
    assert "By today’s scores and stock, for the target of the fitting" in text


def test_somebody_under_age_needs_a_guardian_who_is_in_no_trail(api_for, cast, body):
    client = api_for(cast.fitter_a)
    person = {"name": "Ada Example", "email": "ada@example.org", "consent": True, "under_age": True}
    refused = client.post("/api/fittings/", body(customer=person), format="json")
    assert (refused.status_code, list(refused.json()["fields"])) == (400, ["customer.guardian"])
    assert not Customer.objects.exists()
    given = client.post("/api/fittings/", body(customer=person | {"guardian": "Berta Elder"}), format="json")
    assert given.status_code == 201, given.content
    assert Consent.objects.get().guardian == "Berta Elder"
    assert not AuditEntry.objects.filter(payload__icontains="Elder").exists()
