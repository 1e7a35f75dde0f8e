"""Follow-ups by telephone: the script, the tries, addresses that fail, and being left in peace."""

from __future__ import annotations

import datetime as dt
import re
import uuid

import pytest
from django.test import Client
from django.utils import timezone

from core.audit import record_kinds, verification
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import AuditEntry, Membership, Store
from fittings.models import ContactTry, FollowUp
from fittings.services import (
    bounce_note,
    contact_correct,
    follow_up_reminders_send,
    mail_allow,
    mail_stop,
    not_reached_note,
)
from tests.shared import shared


def ago(**span):
    return timezone.now() - dt.timedelta(**span)


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


@shared
def due(chosen):
    """A follow-up that is due, of somebody with a telephone."""
    fitting = chosen(at=ago(weeks=3))
    fitting.customer.phone = "+1 (234) 567-890"
    fitting.customer.save()
    return fitting.follow_ups.get(weeks=2)


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


def url(follow_up, what=""):
    return f"/fittings/follow-ups/{follow_up.pk}/{what}"


def test_call_is_on_one_screen_with_words_number_and_questions(fitter, due):
    text = text_of(fitter.get(url(due)))
    for words in (
        "Hello, this is fitter-a from Store A. Am I speaking to Ada Example?",
        "chose the Brand in-target",
        'href="tel:+1234567890"',
        "Are you still wearing the shoes?",
        "No answer",
        "we are not clinicians",
        "Not called yet; no e-mail yet.",
    ):
        assert words in text, words


def test_not_reached_is_counted_and_sent_twice_counts_once(fitter, due):
    sent = {"submission": str(uuid.uuid4())}
    for _ in range(2):
        assert fitter.post(url(due, "not-reached/"), sent).status_code == 302
    assert ContactTry.objects.count() == 1
    fitter.post(url(due, "not-reached/"), {"submission": str(uuid.uuid4())})
    assert "not reached 2 times" in text_of(fitter.get("/fittings/follow-ups/"))
    text = text_of(fitter.get(url(due)))
    assert text.count("not reached by telephone, fitter-a") == 2
    assert FollowUp.objects.due(timezone.localdate()).count() == 1


@pytest.mark.parametrize("submission", ["", "again"])
def test_try_without_the_number_of_its_page_is_refused(fitter, due, submission):
    answer = fitter.post(url(due, "not-reached/"), {"submission": submission})
    assert answer.status_code == 400
    assert "Open the follow-up again" in text_of(answer)


def test_try_of_an_answered_follow_up_is_refused(fitter, due, cast, chosen):
    fitter.post(url(due), {"wearing": "yes"})
    answer = fitter.post(url(due, "not-reached/"), {"submission": str(uuid.uuid4())})
    assert answer.status_code == 409
    other = chosen(at=ago(weeks=3), name="Bea").follow_ups.get(weeks=2)
    number = uuid.uuid4()
    not_reached_note(actor=cast.fitter_a, follow_up=other, submission=number)
    third = chosen(at=ago(weeks=3), name="Cle").follow_ups.get(weeks=2)
    with pytest.raises(DomainError, match="already sent"):
        not_reached_note(actor=cast.fitter_a, follow_up=third, submission=number)


def test_answer_by_telephone_shows_why_it_is_classed_so(fitter, due):
    fitter.post(url(due), {"wearing": "yes", "pain-0-region": "heel", "pain-0-side": "left", "pain-0-score": "3"})
    text = text_of(fitter.get(url(due)))
    assert "Why" in text
    assert "settled on 2025-01-31" in text
    assert "settled on 2025-01-31" in text_of(fitter.get(f"/fittings/{due.fitting_id}/"))


def test_new_address_is_written_to_again(fitter, due, cast):
    customer = due.fitting.customer
    for _ in range(2):
        assert fitter.post(url(due, "mail/"), {"what": "bounced"}).status_code == 302
    assert follow_up_reminders_send() == 0
    assert "e-mail bounces" in text_of(fitter.get("/fittings/follow-ups/"))
    assert list(ContactTry.objects.values_list("kind", flat=True)) == ["bounced"]
    sent = {"contact-email": "ada@new.example.org", "contact-phone": "+1 (234) 567-890"}
    assert fitter.post(url(due, "contact/"), sent).status_code == 302
    customer.refresh_from_db()
    assert (customer.email, customer.mail_failed_at) == ("ada@new.example.org", None)
    assert follow_up_reminders_send() == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"contact-email": "nowhere"}, "Enter a valid e-mail address, such as name@example.org."),
        ({"contact-phone": "by pigeon"}, "Write the telephone number with only digits"),
        ({"contact-phone": "1" * 41}, "at most 40 characters"),
    ],
)
def test_bad_address_comes_back_with_its_problem(fitter, due, change, words):
    answer = fitter.post(url(due, "contact/"), {"contact-email": "", "contact-phone": ""} | change)
    assert answer.status_code == 400
    assert words in text_of(answer)


def test_staff_stop_letters_and_allow_them_again(fitter, due):
    fitter.post(url(due, "mail/"), {"what": "stop"})
    assert follow_up_reminders_send() == 0
    assert "wants no e-mails" in text_of(fitter.get(url(due)))
    fitter.post(url(due, "mail/"), {"what": "allow"})
    assert follow_up_reminders_send() == 1
    assert fitter.post(url(due, "mail/"), {"what": "dance"}).status_code == 400


def test_bounce_without_an_address_is_refused(cast, chosen):
    follow_up = chosen(at=ago(weeks=3), email="").follow_ups.get(weeks=2)
    with pytest.raises(DomainError, match="no e-mail address"):
        bounce_note(actor=cast.fitter_a, follow_up=follow_up)


def test_other_store_gets_404(cast, due):
    other = Client()
    other.force_login(cast.fitter_b)
    for what, data in (("", {"wearing": "yes"}), ("not-reached/", {}), ("contact/", {}), ("mail/", {"what": "stop"})):
        assert other.post(url(due, what), data).status_code == 404, what
    assert other.get(f"/fittings/{due.fitting_id}/card/").status_code == 404
    customer = due.fitting.customer
    for attempt in (
        lambda: not_reached_note(actor=cast.fitter_b, follow_up=due),
        lambda: bounce_note(actor=cast.fitter_b, follow_up=due),
        lambda: mail_stop(actor=cast.fitter_b, customer=customer),
        lambda: mail_allow(actor=cast.office, customer=customer),
        lambda: contact_correct(actor=cast.fitter_b, customer=customer, email="", phone=""),
    ):
        with pytest.raises(DomainError) as refused:
            attempt()
        assert refused.value.status == 404
    assert not ContactTry.objects.exists()


def test_list_can_be_narrowed_to_one_store_of_several(fitter, cast, due, chosen):
    store = Store.objects.create(slug="store-c", name="Store C")
    Membership.objects.create(user=cast.fitter_a, role=Role.FITTER, store=store)
    fitter.force_login(type(cast.fitter_a).objects.get(pk=cast.fitter_a.pk))
    assert "Ada Example" in text_of(fitter.get("/fittings/follow-ups/", {"store": "store-a"}))
    assert "Ada Example" not in text_of(fitter.get("/fittings/follow-ups/", {"store": "store-c"}))
    assert "Ada Example" in text_of(fitter.get("/fittings/follow-ups/", {"store": "no-such"}))


def test_list_costs_the_same_however_many(fitter, chosen, django_assert_max_num_queries):
    for name in ("Ada", "Bea", "Cle", "Dee"):
        chosen(at=ago(weeks=3), name=name)
    with django_assert_max_num_queries(7):
        assert fitter.get("/fittings/follow-ups/").status_code == 200


def test_the_trail_agrees_and_names_nobody(fitter, due, cast):
    fitter.post(url(due, "not-reached/"), {"submission": str(uuid.uuid4())})
    fitter.post(url(due, "mail/"), {"what": "bounced"})
    fitter.post(url(due, "contact/"), {"contact-email": "very@private.example.org", "contact-phone": "0999 888"})
    fitter.post(url(due, "mail/"), {"what": "stop"})
    payloads = "".join(AuditEntry.objects.values_list("payload", flat=True)).lower()
    for private in ("private", "0999 888", "ada@", "567-890"):
        assert private not in payloads, private
    kinds = [kind for kind in record_kinds() if kind.model._meta.app_label == "fittings"]
    assert [str(fault) for kind in kinds for fault in verification.record_faults(kind)] == []
