"""The owner of an account is informed of changes to it, after they are committed and whatever the mail server does."""

from __future__ import annotations

import logging
import smtplib
import threading

import pytest
from django.core import mail
from django.urls import reverse

from core.accounts import holder_mail, second_factor
from core.accounts import services as accounts
from core.accounts.links import link_renew
from core.gate.access import Role
from core.models import SecurityEvent, SecurityKind, User

WRONG = "not the pass phrase"
OWN = "technician@practice.example"


@pytest.fixture
def holder(people):
    people.technician.email = OWN
    people.technician.save()
    return people.technician


@pytest.fixture
def sent(django_capture_on_commit_callbacks):
    """Return a function that does something, and returns the e-mails that leave once it is committed."""

    def run(act):
        mail.outbox.clear()
        with django_capture_on_commit_callbacks(execute=True):
            act()
            assert mail.outbox == []
        for thread in threading.enumerate():
            if thread.name == "holder-mail":
                thread.join(5)
        return mail.outbox

    return run


@pytest.mark.parametrize(
    ("act", "says", "by"),
    [
        (
            lambda people: accounts.password_reset(actor=people.office, user=people.technician, reason="forgotten"),
            "A temporary password was set",
            "office",
        ),
        (
            lambda people: accounts.password_change(actor=people.technician, password="quite another phrase"),
            "The password was changed",
            "you",
        ),
        (
            lambda people: link_renew(actor=None, user=people.technician, reason="lost"),
            "A single-use link was created",
            "a command on the server",
        ),
        (
            lambda people: accounts.role_grant(
                actor=people.office, user=people.technician, role=Role.REVIEWER, store=None, reason="promoted"
            ),
            "was given a role: lab reviewer",
            "office",
        ),
        (
            lambda people: accounts.membership_withdraw(
                actor=people.office, membership=people.technician.memberships.get(), reason="left the lab"
            ),
            "lost a role: lab technician",
            "office",
        ),
        (
            lambda people: accounts.account_switch_off(actor=people.office, user=people.technician, reason="left"),
            "was switched off",
            "office",
        ),
        (
            lambda people: accounts.token_make(actor=people.technician, days=30, label="rig 2"),
            "An API token was created",
            "you",
        ),
    ],
)
def test_holder_is_informed_of_what_changed_and_who_did_it(people, holder, sent, act, says, by):
    (message,) = sent(lambda: act(people))
    assert message.to == [OWN]
    assert says in message.body
    assert f"By: {by}\n" in message.body
    assert "Account: technician" in message.body
    assert message.content_subtype == "plain"


def test_lifted_and_added_second_factor_are_said(people, holder, sent, device_for):
    device_for(holder)
    (lifted,) = sent(lambda: second_factor.second_factor_lift(actor=people.office, user=holder, reason="phone lost"))
    assert "Head office removed the second factor" in lifted.body


def test_message_holds_nothing_that_opens_the_account(people, holder, sent):
    made = {}

    def act():
        made["password"] = accounts.password_reset(actor=people.office, user=holder, reason="forgotten").password
        made["link"] = link_renew(actor=people.office, user=holder, reason="lost").url
        made["token"] = accounts.token_make(actor=holder, days=30, label="my label")

    text = " ".join(message.body for message in sent(act))
    assert text
    assert not [name for name, secret in made.items() if secret in text]
    assert "/welcome/" not in text
    assert "my label" not in text


def test_changed_address_is_said_to_the_earlier_one_too(people, holder, sent, give_password, client):
    give_password("technician", client=client)
    data = {"email": "other@practice.example", "current_password": "a long pass phrase"}
    messages = sent(lambda: client.post(reverse("core:email-change"), data))
    assert [message.to for message in messages] == [["other@practice.example"], [OWN]]
    assert User.objects.get(pk=holder.pk).email == "other@practice.example"
    assert "other@practice.example" not in messages[1].body
    assert sent(lambda: client.post(reverse("core:email-change"), data)) == []


def test_changing_the_address_needs_the_password(holder, give_password, client):
    give_password("technician", client=client)
    answer = client.post(reverse("core:email-change"), {"email": "x@example.org", "current_password": WRONG})
    assert "not your password" in answer.content.decode()
    assert User.objects.get(pk=holder.pk).email == OWN


def test_lock_is_said_once_a_day(people, holder, sent, give_password):
    def guess(address):
        for _ in range(5):
            give_password("technician", WRONG, address=address)

    (message,) = sent(lambda: guess("203.0.113.7"))
    assert "sign-in is locked for a while" in message.body
    assert sent(lambda: guess("198.51.100.9")) == []
    assert SecurityEvent.objects.filter(kind=SecurityKind.LOCKED).count() == 2


def test_account_without_an_address_and_undone_changes_send_nothing(people, sent):
    assert sent(lambda: accounts.sessions_end(actor=people.office, user=people.office)) == []
    assert sent(lambda: accounts.password_reset(actor=people.office, user=people.fitter_a, reason="forgotten")) == []


@pytest.mark.parametrize("problem", [ConnectionRefusedError(), smtplib.SMTPRecipientsRefused({OWN: (550, b"no")})])
def test_mail_server_that_fails_fails_nothing_and_logs_no_address(people, holder, sent, monkeypatch, caplog, problem):
    def refuse(self):
        raise problem

    monkeypatch.setattr(holder_mail.EmailMessage, "send", refuse)
    with caplog.at_level(logging.WARNING):
        assert sent(lambda: accounts.password_reset(actor=people.office, user=holder, reason="forgotten")) == []
    assert type(problem).__name__ in caplog.text
    assert OWN not in caplog.text
    assert User.objects.get(pk=holder.pk).must_change_password


def test_head_office_enters_the_address_and_the_trail_does_not_hold_it(people, sign_in):
    client = sign_in(people.office)
    page = reverse("core:account-rename", args=[people.technician.pk])
    client.post(page, {"name-first_name": "Ada", "name-last_name": "", "name-email": "ada@practice.example"})
    assert User.objects.get(pk=people.technician.pk).email == "ada@practice.example"
    from core.audit import entries_of

    entries = list(entries_of(people.technician))
    assert "core.user.email_changed" in [entry.action for entry in entries]
    assert not any("ada@" in entry.payload for entry in entries)
    answer = client.post(page, {"name-email": "not an address"})
    assert answer.status_code == 400
    assert "valid e-mail address" in answer.content.decode()
