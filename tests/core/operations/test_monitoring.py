"""Alive, ready and counts: what a monitoring system asks."""

from __future__ import annotations

import logging
import time

import pytest
from django.db import OperationalError, connection

from core.operations import readiness as module
from core.operations import views
from core.operations.readiness import readiness


class Gone:
    def cursor(self):
        raise OperationalError("connection refused")


def test_alive_while_the_database_answers(client, db):
    response = client.get("/healthz")
    assert response.status_code == 200
    assert response.json() == {"status": "ok", "database": "ok"}


def test_not_alive_without_the_database(client, db, monkeypatch):
    monkeypatch.setattr(views, "connection", Gone())
    response = client.get("/healthz")
    assert response.status_code == 503
    assert response.json()["status"] == "failing"


def test_not_alive_on_an_empty_database(client, db):
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL search_path = pg_temp")
        response = client.get("/healthz")
    assert response.status_code == 503
    assert response.json()["database"] == "empty: run migrate"


def test_page_without_its_tables_is_out_of_use_and_not_in_error(client, db):
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL search_path = pg_temp")
    client.raise_request_exception = False
    assert client.get("/").status_code == 503


@pytest.mark.parametrize(("ahead", "words"), [(-90.4, "90 s behind the"), (8.0, "8 s ahead of the")])
def test_clock_that_differs_from_the_databases_is_named(db, monkeypatch, ahead, words):
    now = time.time
    monkeypatch.setattr(module.time, "time", lambda: now() + ahead)
    state = readiness()
    assert state.is_ready
    assert words in state.warnings[0]


def test_ready_on_a_migrated_primary(client, db):
    response = client.get("/readyz")
    found = response.json()
    assert abs(found.pop("clock_ahead_s")) < 1
    assert found == {
        "status": "ready",
        "problems": [],
        "database": "primary",
        "standby_lag_s": None,
        "replicas": [],
        "warnings": [],
    }
    assert response.status_code == 200


def test_not_ready_without_the_database(client, db, monkeypatch):
    monkeypatch.setattr(module, "connection", Gone())
    response = client.get("/readyz")
    assert response.status_code == 503
    assert response.json()["problems"] == ["The database cannot be reached."]


def test_not_ready_while_a_migration_is_missing(client, db, monkeypatch):
    monkeypatch.setattr(module, "_applied", lambda: module._in_the_program() - {("core", "0001_initial")})
    response = client.get("/readyz")
    assert response.status_code == 503
    assert response.json()["problems"] == ["Run migrate: 1 migrations are missing, first core.0001_initial."]


def test_not_ready_as_another_user(db, settings):
    settings.APPLICATION_ROLE = "somebody_else"
    (problem,) = readiness().problems
    assert problem.endswith("not as somebody_else.")


def test_migrations_of_the_database_are_those_of_the_program(db):
    assert module._in_the_program() <= module._applied()


def test_asking_costs_three_statements(db, django_assert_num_queries):
    with django_assert_num_queries(3):
        readiness()


def test_no_counts_without_a_token_in_the_settings(client, db, settings):
    settings.METRICS_TOKEN = ""
    assert client.get("/metrics").status_code == 404


@pytest.mark.parametrize("given", ["", "Bearer", "Bearer wrong", "the token", "Bearer the tok\u00e9n"])
def test_counts_are_for_the_token_alone(client, db, settings, given):
    settings.METRICS_TOKEN = "the token"
    response = client.get("/metrics", headers={"Authorization": given})
    assert response.status_code == 401
    assert b"benchlast" not in response.content


def _counts(client, settings):
    settings.METRICS_TOKEN = "the token"
    response = client.get("/metrics", headers={"Authorization": "Bearer the token"})
    assert response.status_code == 200
    lines = [line for line in response.content.decode().splitlines() if not line.startswith("#")]
    return {name: float(value) for name, _, value in (line.rpartition(" ") for line in lines)}


def test_requests_are_counted_by_route_and_never_by_address(client, db, settings):
    name = 'benchlast_requests_total{method="GET",route="core:healthz",status="200"}'
    before = _counts(client, settings).get(name, 0.0)
    client.get("/healthz")
    client.get("/f/a-secret-link/")
    after = _counts(client, settings)
    assert after[name] == before + 1
    assert not [key for key in after if "a-secret-link" in key]


def test_made_up_methods_and_addresses_share_one_row(client, db, settings):
    for word in ("BREW", "WHEN"):
        client.generic(word, f"/{word}/")
    assert not [key for key in _counts(client, settings) if "BREW" in key or "WHEN" in key]


def test_one_log_line_a_request_with_its_id(client, db, caplog):
    caplog.set_level(logging.INFO, logger="benchlast.requests")
    response = client.get("/readyz?who=me")
    (record,) = [item for item in caplog.records if item.name == "benchlast.requests"]
    assert (record.method, record.route, record.status) == ("GET", "core:readyz", 200)
    assert record.request_id == response.headers["X-Request-Id"]
    assert "who=me" not in record.getMessage()
    assert record.levelno == logging.INFO


def test_slow_request_is_a_warning(client, db, caplog, settings):
    settings.SLOW_REQUEST_SECONDS = 0
    client.get("/readyz")
    (record,) = [item for item in caplog.records if item.name == "benchlast.requests"]
    assert record.levelno == logging.WARNING
    assert record.getMessage().startswith("slow request: GET core:readyz 200")


@pytest.mark.parametrize(
    ("proxies", "given", "is_used"),
    [
        (1, "c0ffee-0123456789", True),
        (0, "c0ffee-0123456789", False),
        (1, "short", False),
        (1, "a b c d e f", False),
    ],
)
def test_request_id_of_our_proxy_is_used(client, db, settings, proxies, given, is_used):
    settings.PROXY_COUNT = proxies
    response = client.get("/healthz", headers={"X-Request-Id": given})
    assert (response.headers["X-Request-Id"] == given) == is_used


def test_connections_give_up_on_a_server_that_does_not_answer():
    given = connection.get_connection_params()
    assert given["connect_timeout"] == 5
    assert given["tcp_user_timeout"] == 15_000
