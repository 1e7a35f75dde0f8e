"""Reminders: who gets one, once, whatever happens."""

from __future__ import annotations

import datetime as dt
import re
import smtplib

import pytest
from django.core import mail, signing
from django.core.management import CommandError, call_command
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from core.models import AuditEntry
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.models import ContactTry, Customer, FollowUp
from fittings.services import choice_record, follow_up_answer, follow_up_reminders_send
from fittings.services.people.links import ask_token_for, stop_token_for, token_for


def ago(**span):
    return timezone.now() - dt.timedelta(**span)


def test_customer_with_an_address_is_reminded_once_with_a_link_that_opens(chosen, client):
    chosen(at=ago(weeks=2))
    assert follow_up_reminders_send() == 1
    assert follow_up_reminders_send() == 0
    assert len(mail.outbox) == 1
    letter = mail.outbox[0]
    assert letter.to == ["ada@example.org"]
    path = re.search(r"https?://[^/]+(/f/\S+)", letter.body).group(1)
    page = client.get(path)
    assert page.status_code == 200
    assert b"How are your shoes?" in page.content
    for private in ("Ada", "heel", "pain in", "59", "71"):
        assert private not in letter.subject + letter.body.replace(path, "")


def test_nobody_is_reminded_without_address_before_the_day_long_after_or_when_answered(chosen, cast):
    chosen(at=ago(weeks=2), email="")
    chosen(at=ago(days=13), name="Too Early")
    chosen(at=ago(weeks=26, days=28), name="Too Late")
    answered = chosen(at=ago(weeks=2), name="Has Answered")
    follow_up_answer(
        actor=cast.fitter_a, follow_up=answered.follow_ups.get(weeks=2), answer=FollowUpAnswer(wearing=True)
    )
    assert follow_up_reminders_send() == 0
    assert mail.outbox == []


def test_several_are_sent_in_one_run(chosen, capsys):
    for name in ("Ada", "Bea", "Cle"):
        chosen(at=ago(weeks=2), name=name)
    call_command("send_follow_ups")
    assert len(mail.outbox) == 3
    told = capsys.readouterr().out
    assert told.count("reminded of follow-up") == 3
    assert "3 sent." in told
    assert "Ada" not in told


def test_a_refused_letter_stays_unsent_and_the_others_stay_sent(chosen, monkeypatch):
    for name in ("Ada", "Bea"):
        chosen(at=ago(weeks=2), name=name)
    from fittings.services.people import reminders as service

    real, calls = service.EmailMessage.send, []

    def refuse_second(letter):
        calls.append(letter)
        if len(calls) == 2:
            raise smtplib.SMTPServerDisconnected("gone")
        return real(letter)

    monkeypatch.setattr(service.EmailMessage, "send", refuse_second)
    with pytest.raises(CommandError, match="The mail server refused: gone"):
        call_command("send_follow_ups")
    assert FollowUp.objects.filter(sent_at__isnull=False).count() == 1
    assert follow_up_reminders_send() == 1
    assert FollowUp.objects.filter(sent_at__isnull=False).count() == 2


def test_the_query_passes_by_what_another_run_has_locked(chosen):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    chosen(at=ago(weeks=2))
    with CaptureQueriesContext(connection) as done:
        follow_up_reminders_send()
    asked = [query["sql"] for query in done.captured_queries if "FOR UPDATE" in query["sql"]]
    assert asked
    assert all("SKIP LOCKED" in sql for sql in asked)


def refuse_with(monkeypatch, code):
    from fittings.services.people import reminders as service

    def refuse(letter):
        raise smtplib.SMTPRecipientsRefused({letter.to[0]: (code, b"no such mailbox")})

    monkeypatch.setattr(service.EmailMessage, "send", refuse)


def test_address_refused_for_good_is_noted_and_not_written_to_again(chosen, monkeypatch, capsys):
    fitting = chosen(at=ago(weeks=2))
    refuse_with(monkeypatch, 550)
    call_command("send_follow_ups")
    told = capsys.readouterr().out
    assert "address refused, noted with follow-up" in told
    assert "0 sent." in told
    fitting.customer.refresh_from_db()
    assert fitting.customer.mail_failed_at is not None
    assert list(ContactTry.objects.values_list("kind", flat=True)) == ["refused"]
    monkeypatch.undo()
    assert follow_up_reminders_send() == 0
    assert FollowUp.objects.filter(sent_at__isnull=False).count() == 0


def test_address_refused_for_the_moment_stays_unsent_and_is_tried_again(chosen, monkeypatch):
    chosen(at=ago(weeks=2))
    refuse_with(monkeypatch, 450)
    assert follow_up_reminders_send() == 0
    monkeypatch.undo()
    assert follow_up_reminders_send() == 1


def test_letter_refused_for_its_content_keeps_no_other_from_being_sent(chosen, monkeypatch, capsys):
    for name in ("Ada", "Bea"):
        chosen(at=ago(weeks=2), name=name)
    from fittings.services.people import reminders as service

    real, letters = service.EmailMessage.send, []

    def refuse_first(letter):
        letters.append(letter)
        if len(letters) in (1, 3):
            raise smtplib.SMTPDataError(554, b"looks like junk")
        return real(letter)

    monkeypatch.setattr(service.EmailMessage, "send", refuse_first)
    call_command("send_follow_ups")
    said = capsys.readouterr().out
    assert "stays due: follow-up" in said
    assert "1 sent." in said
    # The one that stays due is refused again, and nothing else is there to send: that is the server's fault.
    with pytest.raises(CommandError, match="refused every e-mail"):
        call_command("send_follow_ups")
    assert FollowUp.objects.filter(sent_at__isnull=False).count() == 1
    assert not ContactTry.objects.exclude(kind="mailed").exists()


def test_second_letter_goes_out_after_a_week_and_no_third(chosen):
    chosen(at=ago(weeks=2))
    assert follow_up_reminders_send() == 1
    FollowUp.objects.filter(reminders=1).update(sent_at=ago(days=6))
    assert follow_up_reminders_send() == 0
    FollowUp.objects.filter(reminders=1).update(sent_at=ago(days=8))
    assert follow_up_reminders_send() == 1
    assert "this is the last e-mail" in mail.outbox[1].body
    FollowUp.objects.filter(reminders=2).update(sent_at=ago(days=8))
    assert follow_up_reminders_send() == 0
    assert list(ContactTry.objects.values_list("kind", flat=True)) == ["mailed", "mailed"]


def test_the_database_itself_refuses_a_third_email(chosen):
    chosen()
    with pytest.raises(IntegrityError, match="follow_up_reminded_at_most_twice"), transaction.atomic():
        FollowUp.objects.update(reminders=3)


def test_letter_can_be_stopped_by_link_and_by_the_mail_program(chosen, client):
    fitting = chosen(at=ago(weeks=2))
    follow_up_reminders_send()
    letter = mail.outbox[0]
    address = letter.extra_headers["List-Unsubscribe"].strip("<>")
    assert letter.extra_headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert address in letter.body
    path = re.search(r"https?://[^/]+(/f/\S+)", address).group(1)
    # Programs open links to look at them: that alone stops nothing.
    asked = client.get(path)
    assert "Unsubscribe?" in asked.content.decode()
    fitting.customer.refresh_from_db()
    assert fitting.customer.mail_stopped_at is None
    strict = Client(enforce_csrf_checks=True)
    for _ in range(2):
        stopped = strict.post(path, {"List-Unsubscribe": "One-Click"})
        assert stopped.status_code == 200
        assert "will not e-mail you about your shoes again" in stopped.content.decode()
    fitting.customer.refresh_from_db()
    assert fitting.customer.mail_stopped_at is not None
    FollowUp.objects.filter(reminders=1).update(sent_at=ago(days=8))
    assert follow_up_reminders_send() == 0
    assert AuditEntry.objects.filter(action="fittings.customer.mail_stopped").count() == 1


def test_link_of_a_letter_opens_the_questions_and_not_the_card(chosen, client):
    fitting = chosen(at=ago(weeks=2))
    follow_up_reminders_send()
    path = re.search(r"https?://[^/]+(/f/\S+)", mail.outbox[0].body).group(1)
    text = client.get(path).content.decode()
    assert "How are your shoes?" in text
    assert "What you said" not in text
    assert "59.0 to 71.0" not in text
    due = fitting.follow_ups.get(weeks=2)
    thanks = client.post(f"{path}answer/", {"follow_up": due.pk, "wearing": "yes"})
    assert "Thank you for your answers." in thanks.content.decode()
    assert "All done" in thanks.content.decode()
    assert "No questions for you at the moment" in client.get(path).content.decode()


@pytest.mark.parametrize("made", [token_for, ask_token_for])
def test_links_of_one_purpose_serve_no_other(chosen, client, made):
    fitting = chosen(at=ago(weeks=2))
    token = made(fitting)
    assert client.post(reverse("customer:mail-stop", kwargs={"token": token})).status_code == 404
    stop = stop_token_for(fitting.customer)
    assert client.get(reverse("customer:card", kwargs={"token": stop})).status_code == 404


def test_old_link_stops_nothing(chosen, client, settings, monkeypatch):
    path = reverse("customer:mail-stop", kwargs={"token": stop_token_for(chosen().customer)})
    settings.SIGNED_LINK_MAX_AGE_DAYS = 1
    real = signing.time.time
    monkeypatch.setattr(signing.time, "time", lambda: real() + 2 * 86_400)
    assert client.post(path).status_code == 410
    assert Customer.objects.get().mail_stopped_at is None


def test_one_letter_for_two_pairs_of_a_day(chosen, cast, mailoutbox):
    fitting = chosen(at=ago(weeks=2))
    choice_record(
        actor=cast.fitter_a, fitting=fitting, slug="in-target", size="EU 43", another_pair=True, at=ago(weeks=2)
    )
    assert follow_up_reminders_send() == len(mailoutbox) == 1
    assert FollowUp.objects.get(reminders=1).pair == 1
