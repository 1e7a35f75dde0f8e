from __future__ import annotations

import pytest

from catalogue.api import throttling
from catalogue.models import ApiAllowance

ADDRESS = "/api/catalogue/bands/"


@pytest.fixture(autouse=True)
def three_a_minute(settings, monkeypatch, db):
    settings.API_VISITOR_REQUESTS_PER_MINUTE = 3
    monkeypatch.setattr(throttling.time, "time", lambda: 1_000_000_017.5)


def ask(client, times=1, address="203.0.113.7", **more):
    return [client.get(ADDRESS, REMOTE_ADDR=address, **more) for _ in range(times)]


def test_visitor_who_asks_too_often_reads_when_to_come_back(client):
    *answers, refused = ask(client, 4)
    assert [answer.status_code for answer in answers] == [200, 200, 200]
    assert refused.status_code == 429
    # 1,000,000,017.5 s lie 57.5 s into their minute.
    assert refused.headers["Retry-After"] == "3"
    body = refused.json()
    assert set(body) == {"detail", "code", "fields"}
    assert body["code"] == "throttled"
    assert body["detail"].startswith("More than 3 requests came from your address in this minute. Ask again in 3 s.")


def test_next_minute_begins_again_and_the_one_before_last_is_forgotten(client, monkeypatch):
    assert ask(client, 4)[-1].status_code == 429
    for later in (60, 120):
        monkeypatch.setattr(throttling.time, "time", lambda later=later: 1_000_000_017.5 + later)
        assert ask(client)[0].status_code == 200
    assert ApiAllowance.objects.count() == 2


def test_each_address_has_its_own_allowance(client):
    assert ask(client, 4)[-1].status_code == 429
    assert ask(client, address="203.0.113.8")[0].status_code == 200


def test_network_of_a_household_shares_one(client):
    ask(client, 3, address="2001:db8:1:2::1")
    assert ask(client, address="2001:db8:1:2:ffff::9")[0].status_code == 429
    assert ask(client, address="2001:db8:1:3::1")[0].status_code == 200


def test_address_is_the_one_that_our_own_proxy_saw(client, settings):
    settings.PROXY_COUNT = 1
    for made_up in ("10.0.0.1", "10.0.0.2", "10.0.0.3"):
        ask(client, address="192.0.2.1", headers={"X-Forwarded-For": f"{made_up}, 203.0.113.7"})
    refused = ask(client, address="192.0.2.1", headers={"X-Forwarded-For": "10.0.0.4, 203.0.113.7"})[0]
    assert refused.status_code == 429
    other = ask(client, address="192.0.2.1", headers={"X-Forwarded-For": "203.0.113.9"})[0]
    assert other.status_code == 200


def test_whoever_signed_in_is_not_counted(client, api_for, cast):
    by_token = api_for(cast.fitter_a)
    assert {by_token.get(ADDRESS).status_code for _ in range(5)} == {200}
    client.force_login(cast.office)
    assert {answer.status_code for answer in ask(client, 5)} == {200}
    assert not ApiAllowance.objects.exists()


def test_unchanged_answers_count_too(client):
    tag = ask(client)[0].headers["ETag"]
    answers = ask(client, 3, headers={"If-None-Match": tag})
    assert [answer.status_code for answer in answers] == [304, 304, 429]


def test_counting_takes_one_statement(client, django_assert_num_queries):
    ask(client, 2)
    with django_assert_num_queries(2):
        ask(client)


def test_limit_can_be_lifted(client, settings):
    settings.API_VISITOR_REQUESTS_PER_MINUTE = 0
    assert {answer.status_code for answer in ask(client, 9)} == {200}
    assert not ApiAllowance.objects.exists()


def test_pages_are_not_throttled(client):
    assert {client.get("/").status_code for _ in range(5)} == {200}


def test_description_of_the_api_names_the_limit(client):
    text = client.get("/api/schema/?format=json").json()
    for path, methods in text["paths"].items():
        if path.startswith("/api/catalogue/") and "get" in methods:
            assert "429" in methods["get"]["responses"], path
