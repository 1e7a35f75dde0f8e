"""Failed sign-ins are counted by account and address, lock for a while, and tell nobody which accounts there are."""

from __future__ import annotations

import datetime as dt
import logging
import re

import pytest
from axes.models import AccessAttempt, AccessLog
from django.db.models import F
from django.test import Client
from django.urls import reverse

from core.accounts.lockout import lockout_address
from core.gate.context import client_address

LIMIT = 5
WRONG = "not the pass phrase"


def grow_older(minutes):
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - dt.timedelta(minutes=minutes))


def fail(give_password, username, times, **where):
    return [give_password(username, WRONG, **where) for _ in range(times)][-1]


def test_wrong_password_says_so_and_signs_nobody_in(people, give_password):
    client = Client()
    response = give_password("fitter-a", WRONG, client=client)
    assert response.status_code == 400
    assert "do not match an account" in response.content.decode()
    assert "_auth_user_id" not in client.session


def test_fifth_failure_locks_and_says_how_long_and_what_to_do(people, give_password):
    assert fail(give_password, "fitter-a", LIMIT - 1).status_code == 400
    response = give_password("fitter-a", WRONG)
    text = response.content.decode()
    assert response.status_code == 429
    assert "15 minutes" in text
    assert "temporary password" in text
    assert 880 <= int(response.headers["Retry-After"]) <= 900
    assert "no-store" in response.headers["Cache-Control"]


def test_right_password_does_not_open_a_locked_account(people, give_password):
    fail(give_password, "fitter-a", LIMIT)
    client = Client()
    assert give_password("fitter-a", client=client).status_code == 429
    assert "_auth_user_id" not in client.session


def test_lock_ends_after_the_cool_off_and_trying_meanwhile_does_not_draw_it_out(people, give_password):
    fail(give_password, "fitter-a", LIMIT)
    grow_older(10)
    response = give_password("fitter-a")
    assert response.status_code == 429
    assert 280 <= int(response.headers["Retry-After"]) <= 300
    grow_older(5.1)
    assert give_password("fitter-a").status_code == 302


def test_lock_spares_the_account_elsewhere_and_others_here(people, give_password):
    fail(give_password, "fitter-a", LIMIT)
    assert give_password("fitter-a", address="198.51.100.20").status_code == 302
    assert give_password("manager-a").status_code == 302


def test_other_browsers_count_together(people, give_password):
    for number in range(LIMIT):
        response = give_password("fitter-a", WRONG, HTTP_USER_AGENT=f"browser {number}")
    assert response.status_code == 429


def test_time_told_is_when_enough_failures_have_grown_old(people, give_password):
    give_password("fitter-a", WRONG, HTTP_USER_AGENT="early")
    grow_older(12)
    for _ in range(LIMIT - 1):
        response = give_password("fitter-a", WRONG, HTTP_USER_AGENT="late")
    assert response.status_code == 429
    assert 160 <= int(response.headers["Retry-After"]) <= 180


def test_many_failures_on_many_names_lock_the_address(people, give_password, settings):
    settings.SIGN_IN_ADDRESS_FAILURE_LIMIT = 12
    for number in range(11):
        assert give_password(f"nobody-{number}", WRONG).status_code == 400
    assert give_password("nobody-11", WRONG).status_code == 429
    assert give_password("manager-a").status_code == 429
    assert give_password("manager-a", address="198.51.100.20").status_code == 302


def test_own_success_does_not_forget_failures_on_others(people, give_password):
    fail(give_password, "office", LIMIT - 1)
    assert give_password("fitter-a").status_code == 302
    assert give_password("office", WRONG).status_code == 429


def test_success_forgets_own_failures(people, give_password):
    fail(give_password, "fitter-a", LIMIT - 1)
    assert give_password("fitter-a").status_code == 302
    assert fail(give_password, "fitter-a", LIMIT - 1).status_code == 400


def plain(response):
    """Return a page without what differs on every answer."""
    text = re.sub(r'(name="csrfmiddlewaretoken" value=)"\w+"', r"\1", response.content.decode())
    text = re.sub(r"<time.*?</time>", "", text)
    return re.sub(r'value="[^"]*nobody[^"]*"|value="fitter-a"|value="technician"', "", text)


def test_answers_are_the_same_for_accounts_known_unknown_and_switched_off(people, give_password):
    people.technician.is_active = False
    people.technician.save()
    pages = [[plain(give_password(name, WRONG)) for _ in range(LIMIT)] for name in ("fitter-a", "nobody", "technician")]
    assert pages[0] == pages[1] == pages[2]


def test_right_password_of_a_switched_off_account_says_no_more_than_a_wrong_one(people, give_password):
    people.technician.is_active = False
    people.technician.save()
    assert plain(give_password("technician")) == plain(give_password("technician", WRONG))


def test_unknown_account_costs_a_hash_too(people, give_password, monkeypatch):
    from django.contrib.auth import hashers

    calls = []
    kept = hashers.MD5PasswordHasher.encode
    monkeypatch.setattr(hashers.MD5PasswordHasher, "encode", lambda *args: calls.append(1) or kept(*args))
    give_password("nobody", WRONG)
    assert calls


def test_tokens_are_not_touched_by_a_lock(people, give_password, api_for):
    client = api_for(people.technician)
    fail(give_password, "technician", LIMIT)
    assert client.get("/api/lab/tests/", REMOTE_ADDR="203.0.113.7").status_code == 200


def test_wrong_tokens_count_nothing(people):
    for _ in range(LIMIT + 1):
        response = Client().get("/api/lab/tests/", HTTP_AUTHORIZATION="Token 0123456789abcdef")
        assert response.status_code == 401
    assert not AccessAttempt.objects.exists()


def test_neither_tables_nor_logs_hold_a_password(people, give_password, caplog):
    with caplog.at_level(logging.DEBUG):
        fail(give_password, "fitter-a", LIMIT + 1)
        give_password("manager-a")
    row = AccessAttempt.objects.get()
    kept = f"{row.get_data} {row.post_data} {row.path_info} {row.username}"
    assert row.ip_address == "203.0.113.7"
    assert WRONG not in kept
    logged = "\n".join(record.getMessage() for record in caplog.records if not record.name.startswith("django.db"))
    assert WRONG not in logged
    assert "a long pass phrase" not in logged
    assert "203.0.113.7" not in "\n".join(line for line in logged.splitlines() if "AXES" in line)


def test_addresses_are_kept_for_the_cool_off_alone(people, give_password):
    give_password("fitter-a", WRONG)
    grow_older(16)
    give_password("manager-a")
    assert not AccessAttempt.objects.exists()
    assert not AccessLog.objects.exists()


def test_limit_and_cool_off_are_settings(people, give_password, settings):
    settings.AXES_FAILURE_LIMIT = 2
    settings.AXES_COOLOFF_TIME = dt.timedelta(minutes=1)
    give_password("fitter-a", WRONG)
    response = give_password("fitter-a", WRONG)
    assert response.status_code == 429
    assert "1 minute<" in response.content.decode()


@pytest.mark.parametrize(
    ("count", "forwarded", "address"),
    [
        (0, "198.51.100.9", "203.0.113.7"),
        (1, "198.51.100.9", "198.51.100.9"),
        (1, "192.0.2.1, 198.51.100.9", "198.51.100.9"),
        (2, "192.0.2.1, 198.51.100.9, 203.0.113.1", "198.51.100.9"),
        (2, "198.51.100.9", "203.0.113.7"),
        (1, "<script>", ""),
    ],
)
def test_address_is_what_the_trusted_proxies_saw(rf, settings, count, forwarded, address):
    settings.PROXY_COUNT = count
    request = rf.get("/", REMOTE_ADDR="203.0.113.7", HTTP_X_FORWARDED_FOR=forwarded)
    assert client_address(request) == address


@pytest.mark.parametrize(
    ("seen", "counted"),
    [
        ("203.0.113.7", "203.0.113.7"),
        ("2001:db8:1:2:aaaa::1", "2001:db8:1:2::"),
        ("2001:db8:1:2:bbbb::9", "2001:db8:1:2::"),
        ("::ffff:203.0.113.7", "203.0.113.7"),
        ("", None),
    ],
)
def test_failures_are_counted_by_address_or_ipv6_network(rf, seen, counted):
    assert lockout_address(rf.get("/", REMOTE_ADDR=seen)) == counted


@pytest.mark.parametrize("next_page", ["https://example.org/", "//example.org", "javascript:alert(1)", "nowhere", ""])
def test_sign_in_never_leads_to_another_site(people, next_page):
    data = {"username": "technician", "password": "a long pass phrase", "next": next_page}
    response = Client().post(reverse("core:sign-in"), data)
    assert response.headers["Location"] == reverse("core:home")


def test_sign_in_of_somebody_signed_in_leads_on_even_to_itself(people, sign_in):
    client = sign_in(people.technician)
    address = reverse("core:sign-in")
    assert client.get(f"{address}?next={address}").headers["Location"] == reverse("core:home")


@pytest.mark.parametrize("name", ["x" * 5000, "nul\x00name", "", "‮evil", "ﬁtter-a"])
def test_odd_user_names_are_refused_without_failing(people, give_password, name):
    assert give_password(name, WRONG).status_code == 400


def test_guesses_at_one_account_from_many_addresses_are_slowed_down(people, give_password):
    for number in range(20):
        give_password("fitter-a", WRONG, address=f"2001:db8:{number}::1")
    response = give_password("fitter-a", address="2001:db8:999::1")
    assert response.status_code == 429
    assert int(response.headers["Retry-After"]) == 1
    assert give_password("manager-a", address="2001:db8:999::1").status_code == 302
    grow_older(2 / 60)
    give_password("fitter-a", WRONG, address="2001:db8:21::1")
    assert int(give_password("fitter-a").headers["Retry-After"]) == 2


def test_pause_between_guesses_has_an_end(people, give_password):
    give_password("fitter-a", WRONG, address="2001:db8:1::1")
    AccessAttempt.objects.filter(username="fitter-a").update(failures_since_start=500)
    response = give_password("fitter-a", address="2001:db8:2::1")
    assert response.status_code == 429
    assert 50 <= int(response.headers["Retry-After"]) <= 60
    grow_older(61 / 60)
    assert give_password("fitter-a", address="2001:db8:2::1").status_code == 302


def guessed_at(username):
    """Failures enough from elsewhere that the account has to wait."""
    AccessAttempt.objects.create(username=username, ip_address="2001:db8:1::", failures_since_start=500)


@pytest.mark.parametrize("username", ["fitter-a", "nobody"])
def test_brake_is_the_same_for_unknown_accounts(people, give_password, username):
    guessed_at(username)
    assert give_password(username, WRONG).status_code == 429


def test_browser_that_signed_in_before_does_not_wait_for_guesses_from_elsewhere(people, give_password):
    shared = Client()
    for username in ("manager-a", "fitter-a"):
        give_password(username, client=shared)
        shared.post(reverse("core:sign-out"))
    guessed_at("fitter-a")
    assert give_password("fitter-a").status_code == 429
    assert give_password("fitter-a", client=shared).status_code == 302
    shared.post(reverse("core:sign-out"))
    guessed_at("technician")
    assert give_password("technician", client=shared).status_code == 429


def test_known_browser_is_held_to_the_limit_of_its_address(people, give_password):
    known = Client()
    give_password("fitter-a", client=known)
    known.post(reverse("core:sign-out"))
    assert fail(give_password, "fitter-a", LIMIT, client=known).status_code == 429


def test_known_browser_in_wrong_hands_guesses_no_more_than_others(people, give_password):
    """Its cookie was stolen and is sent from ever new addresses."""
    known = Client()
    give_password("fitter-a", client=known)
    known.post(reverse("core:sign-out"))
    guessed_at("fitter-a")
    answers = [
        give_password("fitter-a", WRONG, client=known, address=f"2001:db8:{number}::1").status_code
        for number in range(2, 13)
    ]
    assert answers == [400] * 10 + [429]


def test_forged_mark_of_a_known_browser_is_worth_nothing(people, give_password):
    client = Client()
    give_password("fitter-a", client=client)
    signed = client.cookies["known_browser"]
    assert signed["httponly"]
    assert signed["samesite"] == "Lax"
    assert "fitter" not in signed.value
    forged = Client()
    forged.cookies["known_browser"] = signed.value[:-2] + "xx"
    guessed_at("fitter-a")
    assert give_password("fitter-a", client=forged).status_code == 429
