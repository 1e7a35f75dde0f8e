"""A session ends when it was left alone, when it is old, and when its account says so."""

from __future__ import annotations

import time

import pytest
from django.test import Client
from django.urls import reverse

from core.accounts import services as accounts
from core.models import User

PAGE = "/account/"


def turn_back(client, **seconds):
    session = client.session
    for key, value in seconds.items():
        session[key] -= value
    session.save()


@pytest.fixture
def inside(people, give_password):
    client = Client()
    give_password("technician", client=client)
    return client


def test_session_ends_after_an_idle_hour_and_says_why(inside):
    turn_back(inside, seen_at=3601)
    response = inside.get(PAGE)
    assert response.headers["Location"].startswith(reverse("core:sign-in"))
    assert "after 60 minutes without activity" in inside.get(response.headers["Location"]).content.decode()
    assert "_auth_user_id" not in inside.session


def test_session_goes_on_before_the_hour(inside):
    turn_back(inside, seen_at=3500)
    assert inside.get(PAGE).status_code == 200
    assert time.time() - inside.session["seen_at"] < 60


def test_session_ends_after_twelve_hours_in_use(inside):
    turn_back(inside, began_at=12 * 3600 + 1)
    assert inside.get(PAGE).status_code == 302
    assert "_auth_user_id" not in inside.session


def test_limits_are_settings(inside, settings):
    settings.SESSION_IDLE_MINUTES = 5
    turn_back(inside, seen_at=301)
    assert inside.get(PAGE).status_code == 302


def test_expired_session_opens_no_api(inside):
    turn_back(inside, seen_at=3601)
    assert inside.get("/api/lab/tests/").status_code in (401, 403)


def test_session_from_before_there_were_limits_ends(inside):
    session = inside.session
    del session["began_at"], session["seen_at"]
    session.save()
    assert inside.get(PAGE).status_code == 302


def test_requests_within_a_minute_write_nothing(inside, django_assert_num_queries):
    inside.get(PAGE)
    with django_assert_num_queries(4):  # session, user, roles, tokens
        inside.get(PAGE)


def test_public_page_without_a_session_looks_at_none(db, django_assert_num_queries):
    with django_assert_num_queries(0):
        Client().get(reverse("core:sign-in"))


def test_page_that_needed_signing_in_is_where_one_comes_back_to(people):
    response = Client().get("/account/password/?next=/lab/")
    assert "next=/account/password/%3Fnext%3D/lab/" in response.headers["Location"]


def test_refused_post_does_not_come_back_to_an_address_that_only_takes_posts(people):
    assert Client().post("/account/sessions/end/").headers["Location"] == f"{reverse('core:sign-in')}?next="


def test_part_of_a_page_that_is_refused_moves_the_page_on(people):
    response = Client().post(
        "/account/sessions/end/", HTTP_HX_REQUEST="true", HTTP_HX_CURRENT_URL="http://testserver/account/"
    )
    assert response.headers["HX-Redirect"] == f"{reverse('core:sign-in')}?next=/account/"


def test_changed_password_ends_the_other_sessions_and_keeps_this_one(people, give_password, inside):
    other = Client()
    give_password("technician", client=other)
    data = {"current_password": "a long pass phrase", "new_password": "quite another phrase"}
    response = inside.post(reverse("core:password-change"), {**data, "new_password_again": data["new_password"]})
    assert response.headers["Location"] == PAGE
    assert inside.get(PAGE).status_code == 200
    assert other.get(PAGE).status_code == 302


def test_signing_out_everywhere_spares_this_session(people, give_password, inside, actions):
    other = Client()
    give_password("technician", client=other)
    assert inside.post(reverse("core:sessions-end")).status_code == 302
    assert inside.get(PAGE).status_code == 200
    assert other.get(PAGE).status_code == 302
    assert actions(people.technician) == ["core.user.signed_out"]


def test_switched_off_account_is_out_at_once_and_stays_out_when_switched_on(people, inside):
    accounts.account_switch_off(actor=people.office, user=people.technician, reason="has left")
    assert inside.get(PAGE).status_code == 302
    accounts.account_switch_on(actor=people.office, user=people.technician, reason="is back")
    assert inside.get(PAGE).status_code == 302


def test_session_mark_survives_a_change_of_the_secret_key(people, inside, settings):
    user = User.objects.get(username="technician")
    old = user.get_session_auth_hash()
    settings.SECRET_KEY_FALLBACKS = [settings.SECRET_KEY]
    settings.SECRET_KEY = "another key of the tests, long enough to be one"
    assert list(user.get_session_auth_fallback_hash()) == [old]
    assert user.get_session_auth_hash() != old
