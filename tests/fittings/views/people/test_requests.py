"""Fittings that visitors ask for: received once checked, seen by that store alone, emptied when answered or over."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from core.models import AuditEntry
from fittings.domain.people.consent import REQUEST_CONSENT_VERSION
from fittings.models import FittingRequest, RequestState
from fittings.services.people.requests import A_DAY_AND_ADDRESS, fitting_requests_expire
from tests.fittings.services.people.test_privacy_requests import faults_of_fittings

ADDRESS = reverse("start:ask")
NAME, REACH = "Quillon Distinctive", "quillon.distinctive@example.org"


@pytest.fixture
def ask(client, cast):
    def post(**said):
        day = timezone.localdate() + dt.timedelta(days=3)
        data = {"store": "store-a", "name": NAME, "reach": REACH, "wish_day": day.isoformat(), "consent": "on"}
        return client.post(ADDRESS, data | said, REMOTE_ADDR=said.pop("address", "192.0.2.7"))

    return post


def test_request_reaches_its_store_and_no_other(ask, client, sign_in, cast):
    response = ask()
    assert response.status_code == 302
    assert "will reply with a time" in client.get(response.headers["Location"]).content.decode()
    held = FittingRequest.objects.get()
    assert (held.store, held.consent_version) == (cast.store_a, REQUEST_CONSENT_VERSION)
    home = reverse("fittings:home")
    for user in (cast.fitter_a, cast.manager_a):
        page = sign_in(user).get(home).content.decode()
        assert NAME in page
        assert REACH in page
    assert NAME not in sign_in(cast.fitter_b).get(home).content.decode()


@pytest.mark.parametrize("outcome", ["done", "closed"])
def test_closing_deletes_what_was_said(ask, sign_in, cast, outcome):
    ask()
    held = FittingRequest.objects.get()
    close = reverse("fittings:request-close", args=[held.pk])
    assert sign_in(cast.fitter_b).post(close, {"outcome": outcome}).status_code == 404
    client = sign_in(cast.fitter_a)
    assert client.post(close, {"outcome": "lost"}).status_code == 400
    assert client.post(close, {"outcome": outcome}).status_code == 302
    held.refresh_from_db()
    assert (held.state, held.name, held.reach, held.closed_by) == (outcome, "", "", cast.fitter_a)
    assert client.post(close, {"outcome": outcome}).status_code == 409


def test_trail_has_neither_the_person_nor_where_they_asked_from(ask, sign_in, cast):
    ask()
    held = FittingRequest.objects.get()
    sign_in(cast.fitter_a).post(reverse("fittings:request-close", args=[held.pk]), {"outcome": "done"})
    entries = AuditEntry.objects.filter(object_type="fittings.fittingrequest")
    assert [entry.action for entry in entries.order_by("id")] == ["fittings.request.asked", "fittings.request.done"]
    written = "".join(entry.payload for entry in entries)
    for secret in (NAME, REACH, held.asked_from):
        assert secret
        assert secret not in written
    assert "192.0.2.7" not in entries.get(action="fittings.request.asked").payload


def test_retention_empties_requests_thirty_days_after_their_day(ask):
    ask()
    held = FittingRequest.objects.get()
    assert fitting_requests_expire(today=held.wish_day + dt.timedelta(days=30)) == 0
    held.refresh_from_db()
    assert (held.name, held.asked_from) == (NAME, "")
    assert fitting_requests_expire(today=held.wish_day + dt.timedelta(days=31)) == 1
    held.refresh_from_db()
    assert (held.state, held.name, held.reach) == (RequestState.EXPIRED, "", "")
    assert fitting_requests_expire(today=held.wish_day + dt.timedelta(days=32)) == 0


def test_the_daily_command_does_it(ask, capsys):
    ask()
    FittingRequest.objects.update(wish_day=timezone.localdate() - dt.timedelta(days=40))
    call_command("apply_retention")
    assert "1 requests for a fitting emptied" in capsys.readouterr().out
    assert faults_of_fittings() == []


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"name": " "}, "Fill in “Your name”."),
        ({"name": "a\nb"}, "without line breaks"),
        ({"reach": "call me"}, "Write an e-mail address, or a telephone number"),
        ({"reach": "a@b"}, "This e-mail address is not complete."),
        ({"reach": "12"}, "Write an e-mail address, or a telephone number"),
        ({"wish_day": "soon"}, "such as 2026-03-14"),
        ({"wish_day": "2020-01-01"}, "Choose a day from today"),
        ({"wish_day": "9999-12-31"}, "Choose a day from today"),
        ({"store": "nowhere"}, "not one of the choices"),
        ({"consent": ""}, "Tick this if the store may save"),
    ],
)
def test_what_makes_no_sense_is_named_and_nothing_is_saved(ask, said, words):
    response = ask(**said)
    page = response.content.decode()
    assert response.status_code == 400
    assert words in page
    assert "reach" in said or f'value="{REACH}"' in page
    assert not FittingRequest.objects.exists()


def test_one_address_asks_so_often_a_day(ask):
    for _ in range(A_DAY_AND_ADDRESS):
        assert ask().status_code == 302
    response = ask(store="store-b")
    assert response.status_code == 429
    assert "Call the store instead" in response.content.decode()
    assert FittingRequest.objects.count() == A_DAY_AND_ADDRESS
    assert ask(address="192.0.2.8").status_code == 302


def test_full_store_takes_no_more(ask, monkeypatch):
    monkeypatch.setattr("fittings.services.people.requests.OPEN_A_STORE", 1)
    assert ask().status_code == 302
    assert ask().status_code == 429


def test_program_that_fills_in_everything_is_answered_and_ignored(ask):
    assert ask(website="https://example.org").status_code == 302
    assert not FittingRequest.objects.exists()


def test_page_asks_nobody_else_and_nothing_of_health(client, cast):
    page = client.get(ADDRESS, {"store": "store-b"}).content.decode()
    assert '<option value="store-b" selected' in page
    assert "Write nothing about your health" in page
    assert "<textarea" not in page
