"""Asking for a fitting by a program, and the store's answer: what the page asks and refuses holds here too."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from fittings.models import FittingRequest
from fittings.services.people.requests import A_DAY_AND_ADDRESS

ADDRESS = reverse("fittings-api:request-list")
NAME, REACH = "Quillon Distinctive", "quillon.distinctive@example.org"


@pytest.fixture
def ask(client, cast):
    def post(**said):
        day = timezone.localdate() + dt.timedelta(days=3)
        body = {"store": "store-a", "name": NAME, "reach": REACH, "wish_day": day.isoformat(), "consent": True}
        return client.post(ADDRESS, body | said, content_type="application/json", REMOTE_ADDR="192.0.2.7")

    return post


def test_request_waits_at_its_store_until_it_is_ended(ask, api_for, cast):
    answer = ask()
    assert answer.status_code == 201
    assert set(answer.json()) == {"store", "wish_day"}, "nothing of the person comes back"
    own, other = api_for(cast.fitter_a), api_for(cast.fitter_b)
    (row,) = own.get(ADDRESS).json()["results"]
    assert (row["name"], row["reach"], row["store"], row["state"]) == (NAME, REACH, "store-a", "open")
    assert other.get(ADDRESS).json()["count"] == 0
    here = reverse("fittings-api:request-detail", args=[row["id"]])
    assert other.patch(here, {"state": "done"}, format="json").status_code == 404
    assert own.patch(here, {"state": "expired"}, format="json").json()["fields"]["state"]
    ended = own.patch(here, {"state": "done"}, format="json").json()
    assert (ended["state"], ended["name"], ended["reach"]) == ("done", "", "")
    again = own.patch(here, {"state": "closed"}, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "request_closed")
    assert own.get(ADDRESS).json()["count"] == 0


@pytest.mark.parametrize(
    ("said", "status", "key"),
    [
        ({"consent": False}, 400, "consent"),
        ({"consent": "yes"}, 400, "consent"),
        ({"reach": "call me"}, 400, "reach"),
        ({"name": " "}, 400, "name"),
        ({"name": "a\nb"}, 400, "name"),
        ({"wish_day": "2020-01-01"}, 400, "wish_day"),
        ({"wish_day": "soon"}, 400, "wish_day"),
        ({"store": "nowhere"}, 404, "store"),
        ({"pain": "my heel hurts"}, 400, "pain"),
    ],
)
def test_what_makes_no_sense_is_named_and_nothing_is_saved(ask, said, status, key):
    answer = ask(**said)
    assert (answer.status_code, list(answer.json()["fields"])) == (status, [key])
    assert not FittingRequest.objects.exists()


def test_limit_of_an_address_holds_and_programs_that_fill_in_everything_are_ignored(ask):
    assert ask(website="https://example.org").status_code == 201
    assert not FittingRequest.objects.exists()
    for _ in range(A_DAY_AND_ADDRESS):
        assert ask().status_code == 201
    assert (ask().status_code, ask().json()["code"]) == (429, "asked_too_often")
