"""Reminders: who gets one, once, whatever happens."""

from __future__ import annotations

import datetime as dt
import re
import smtplib

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.utils import timezone

from fittings.intake import FollowUpAnswer
from fittings.models import FollowUp
from fittings.services import follow_up_answer, follow_up_reminders_send


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
    from fittings.services import follow_up as service

    real, calls = service.send_mail, []

    def refuse_second(**letter):
        calls.append(letter)
        if len(calls) == 2:
            raise smtplib.SMTPServerDisconnected("gone")
        return real(**letter)

    monkeypatch.setattr(service, "send_mail", refuse_second)
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
