"""Wrong answers amended, names corrected, people who were recorded twice."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import replace

import pytest

from core.audit import record_kinds, verification
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import AuditEntry, Membership, User
from fittings.domain.fitting.intake import CustomerIntake, FollowUpAnswer
from fittings.domain.people.recurrence import Pain
from fittings.domain.regions import Complaint
from fittings.models import Consent, Course, Customer, Draft, Fitting, FollowUp, PainReport, SupersededAnswer
from fittings.selectors.outcomes.courses import OutcomeFilter, counts_of, courses_apart
from fittings.services import (
    contact_correct,
    customer_move,
    customers_merge,
    follow_up_amend,
    follow_up_answer,
    person_save,
)
from fittings.services.fitting.draft import Stamp, Whom

pytestmark = pytest.mark.usefixtures("db")

CHOSEN = dt.datetime(2026, 1, 5, 10, 0, tzinfo=dt.UTC)
HURTS = FollowUpAnswer(wearing=True, distance_km_week=14.0, pain=(Pain("heel", "left", 4),))
FREE = FollowUpAnswer(wearing=True, distance_km_week=14.0, nothing_hurts=True)


def answer(fitting, weeks, given):
    follow_up = fitting.follow_ups.get(weeks=weeks)
    return follow_up_answer(actor=None, follow_up=follow_up, answer=given, at=CHOSEN + dt.timedelta(weeks=weeks))


def faults():
    kinds = [kind for kind in record_kinds() if kind.model._meta.app_label == "fittings"]
    return [fault for kind in kinds for fault in verification.record_faults(kind)]


def test_amended_answers_count_and_those_from_before_stay_on_record(chosen, cast):
    fitting = chosen(at=CHOSEN)
    wrong = answer(fitting, 2, replace(HURTS, comment="by telephone"))
    assert Course.objects.get().recurred
    follow_up_amend(actor=cast.fitter_a, follow_up=wrong, answer=FREE, reason="it was another customer")
    now = FollowUp.objects.get(pk=wrong.pk)
    assert (now.recurrence, now.nothing_hurts, now.answered_at, now.comment) == ("", True, wrong.answered_at, "")
    assert not PainReport.objects.exists()
    course = Course.objects.get()
    assert (course.recurred, course.days, course.km) == (False, 14, 28.0)
    was = SupersededAnswer.objects.get()
    assert was.answers["pain"] == [{"region": "heel", "side": "left", "score": 4}]
    assert (was.answers["comment"], was.reason, was.superseded_by) == (
        "by telephone",
        "it was another customer",
        cast.fitter_a,
    )
    assert faults() == []
    assert not AuditEntry.objects.filter(payload__icontains="another customer").exists()


def test_later_answers_are_judged_again(chosen, cast):
    fitting = chosen(at=CHOSEN, history=(Complaint("heel", "left", now=True),))
    first = answer(fitting, 2, FREE)
    assert answer(fitting, 6, HURTS).recurrence == "early"
    follow_up_amend(actor=cast.fitter_a, follow_up=first, answer=HURTS, reason="wrong box")
    assert fitting.follow_ups.get(weeks=6).recurrence == ""
    assert faults() == []


@pytest.mark.parametrize(
    ("given", "reason", "status", "code"),
    [
        (FREE, " ", 400, "reason_required"),
        (FREE, "x" * 501, 400, "invalid"),
        (FollowUpAnswer(), "why", 400, "empty"),
        (FollowUpAnswer(comfort=11), "why", 400, "invalid"),
        (FollowUpAnswer(comment="x" * 1001), "why", 400, "invalid"),
    ],
)
def test_bad_amendment_changes_nothing(chosen, cast, given, reason, status, code):
    fitting = chosen(at=CHOSEN)
    done = answer(fitting, 2, HURTS)
    with pytest.raises(DomainError) as refused:
        follow_up_amend(actor=cast.fitter_a, follow_up=done, answer=given, reason=reason)
    assert (refused.value.status, refused.value.code) == (status, code)
    assert PainReport.objects.count() == 1
    assert not SupersededAnswer.objects.exists()


def test_only_what_was_answered_in_the_own_store_is_amended(chosen, cast):
    fitting = chosen(at=CHOSEN)
    with pytest.raises(DomainError) as refused:
        follow_up_amend(actor=cast.fitter_a, follow_up=fitting.follow_ups.get(weeks=2), answer=FREE, reason="why")
    assert refused.value.code == "not_answered"
    with pytest.raises(DomainError) as refused:
        follow_up_amend(actor=cast.fitter_b, follow_up=answer(fitting, 2, HURTS), answer=FREE, reason="why")
    assert refused.value.status == 404


def test_name_is_corrected_and_the_trail_holds_neither(chosen, cast):
    customer = chosen(name="Quilon Wrongly").customer
    contact_correct(actor=cast.fitter_a, customer=customer, name="Quillon Rightly", email="q@example.org", phone="")
    assert Customer.objects.get().name == "Quillon Rightly"
    assert not AuditEntry.objects.filter(payload__iregex="wrongly|rightly").exists()
    with pytest.raises(DomainError) as refused:
        contact_correct(actor=cast.fitter_a, customer=customer, name=" ", email="", phone="")
    assert "customer.name" in refused.value.fields


def in_both_stores(cast):
    Membership.objects.create(user=cast.fitter_a, store=cast.store_b, role=Role.FITTER)
    # Read again: a user remembers their stores.
    return User.objects.get(pk=cast.fitter_a.pk)


def twice(chosen, **second):
    first = chosen(at=CHOSEN, name="Ada Example", email="ada@example.org")
    again = {"at": CHOSEN + dt.timedelta(weeks=10), "name": "Ada Exampel", "email": "a@example.org"} | second
    return first, chosen(**again)


def test_merged_records_are_one_person_in_the_outcomes(chosen, cast):
    first, second = twice(chosen)
    answer(first, 2, FREE)
    follow_up_answer(
        actor=None, follow_up=second.follow_ups.get(weeks=2), answer=HURTS, at=CHOSEN + dt.timedelta(weeks=12)
    )
    whom = Whom(CustomerIntake(consent=True), second.customer_id)
    person_save(actor=cast.fitter_a, store=cast.store_a, key=uuid.uuid4(), whom=whom, stamp=Stamp())
    customers_merge(actor=cast.fitter_a, customer=first.customer, duplicate=second.customer)
    stays = Customer.objects.get()
    assert (stays.name, stays.email) == ("Ada Example", "ada@example.org")
    assert set(Fitting.objects.values_list("customer", flat=True)) == {stays.pk} == {Draft.objects.get().customer_id}
    total = counts_of(OutcomeFilter((cast.store_a.pk,)), "target", on=CHOSEN.date()).people[-1]
    assert (total.people, total.recurrences) == (1, 1)
    assert courses_apart() == faults() == []


def test_stricter_consent_holds(chosen, cast):
    first, second = twice(chosen)
    late = CHOSEN + dt.timedelta(weeks=10)
    Customer.objects.filter(pk=second.customer_id).update(mail_stopped_at=late)
    Consent.objects.create(customer=first.customer, text_version="older", given_at=CHOSEN - dt.timedelta(days=9))
    customers_merge(actor=cast.fitter_a, customer=first.customer, duplicate=second.customer)
    # Both agreed to today's wording: the later day. What only one agreed to is gone.
    assert Consent.objects.get().given_at == late
    assert Customer.objects.get().mail_stopped_at == late


def test_without_a_common_wording_the_oldest_holds(chosen, cast):
    first, second = twice(chosen)
    Consent.objects.filter(customer=second.customer).update(
        text_version="older", given_at=CHOSEN - dt.timedelta(days=9)
    )
    customers_merge(actor=cast.fitter_a, customer=first.customer, duplicate=second.customer)
    assert list(Consent.objects.values_list("customer", "text_version")) == [(first.customer_id, "older")]


def test_records_of_two_stores_and_the_same_record_are_not_merged(chosen, cast):
    first, _ = twice(chosen)
    other = chosen(name="Else", email="else@example.org", store=cast.store_b, actor=cast.fitter_b)
    for duplicate, status in ((first.customer, 409), (other.customer, 404)):
        with pytest.raises(DomainError) as refused:
            customers_merge(actor=cast.fitter_a, customer=first.customer, duplicate=duplicate)
        assert refused.value.status == status
    with pytest.raises(DomainError) as refused:
        customers_merge(actor=in_both_stores(cast), customer=first.customer, duplicate=other.customer)
    assert refused.value.code == "two_stores"


def test_customer_of_the_wrong_store_moves_with_all_fittings(chosen, cast):
    fitting = chosen(at=CHOSEN)
    with pytest.raises(DomainError) as refused:
        customer_move(actor=cast.fitter_a, customer=fitting.customer, store=cast.store_b)
    assert refused.value.status == 404
    customer_move(actor=in_both_stores(cast), customer=fitting.customer, store=cast.store_b)
    assert Customer.objects.get().store == Fitting.objects.get().store == Course.objects.get().store == cast.store_b
    assert courses_apart() == faults() == []
