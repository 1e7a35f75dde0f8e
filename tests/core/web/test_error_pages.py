"""Pages of our own for what fails on the way, and logs that give no link away."""

from __future__ import annotations

import logging
from io import BytesIO

import psycopg
import pytest
from django.conf import settings as django_settings
from django.db import OperationalError
from django.test import Client

from core.gate.middleware import GateMiddleware
from core.web.logs import MaskingFormatter


@pytest.fixture
def visitor(db):
    return Client(raise_request_exception=False)


@pytest.fixture
def _database_gone(monkeypatch):
    def fail(*args, **kwargs):
        raise OperationalError("the connection is closed")

    monkeypatch.setattr(GateMiddleware, "process_view", fail)


@pytest.mark.parametrize("debug", [True, False])
@pytest.mark.parametrize("address", ["/lab/rigs/a%00/", "/lab/specimens/a%00/", "/api/lab/rigs/%00/check/", "/%00"])
def test_address_with_nul_names_nothing(people, sign_in, settings, address, debug):
    settings.DEBUG = debug
    client = sign_in(people.technician)
    client.raise_request_exception = False
    for method in (client.get, client.post):
        response = method(address)
        assert response.status_code == 404
        assert "default-src 'self'" in response.headers["Content-Security-Policy"]
    assert Client(raise_request_exception=False).get(address).status_code == 404


@pytest.mark.usefixtures("_database_gone")
@pytest.mark.parametrize("debug", [True, False])
def test_page_says_that_the_database_is_out_of_reach(visitor, settings, debug):
    settings.DEBUG = debug
    response = visitor.get("/")
    assert response.status_code == 503
    assert "cannot be reached" in response.content.decode()
    assert response.headers["Retry-After"] == "5"
    assert response.headers["X-Request-Id"]
    assert "default-src 'self'" in response.headers["Content-Security-Policy"]


@pytest.mark.usefixtures("_database_gone")
def test_api_says_it_as_json(visitor):
    response = visitor.get("/api/catalogue/shoes/")
    assert response.status_code == 503
    assert response.json()["code"] == "unavailable"


def test_other_failures_stay_our_fault(visitor, monkeypatch):
    def fail(*args, **kwargs):
        raise RuntimeError("a typing error")

    monkeypatch.setattr(GateMiddleware, "process_view", fail)
    response = visitor.get("/")
    assert response.status_code == 500
    assert "default-src 'self'" in response.headers["Content-Security-Policy"]


@pytest.mark.parametrize("debug", [True, False])
@pytest.mark.parametrize(
    ("address", "status"), [("/no-such-page/", 404), ("/shoes/no-such/", 404), ("/?mass_max=heavy", 400)]
)
def test_refusals_carry_the_policy(visitor, settings, debug, address, status):
    settings.DEBUG = debug
    response = visitor.get(address)
    assert response.status_code == status
    policy = response.headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy


@pytest.mark.parametrize("address", ["/no-such-page/", "/no-such-page.txt", "/shoes/no-such/"])
def test_unknown_address_shows_our_own_page_under_debug(visitor, settings, address):
    settings.DEBUG = True
    response = visitor.get(address)
    assert response.status_code == 404
    text = response.content.decode()
    assert "This page does not exist" in text
    assert "DEBUG" not in text


def test_unknown_address_of_the_api_is_json_under_debug(visitor, settings):
    settings.DEBUG = True
    assert visitor.get("/api/no-such/").json()["code"] == "http_404"


def test_slash_is_still_added_under_debug(visitor, settings):
    settings.DEBUG = True
    response = visitor.get("/stores")
    assert response.status_code == 301
    assert response.headers["Location"] == "/stores/"


def test_signed_link_is_left_out_of_the_log(visitor, caplog):
    visitor.get("/f/no-such-token:abc/")
    (record,) = [record for record in caplog.records if record.name == "django.request"]
    assert "no-such-token" in record.getMessage()
    line = MaskingFormatter("{message}", style="{").format(record)
    assert "no-such-token" not in line
    assert "/f/…/" in line


def test_every_log_line_goes_through_the_masking_formatter():
    django = logging.getLogger("django")
    assert (django.handlers, django.propagate) == ([], True)
    assert set(django_settings.LOGGING["handlers"]) == {"console"}
    (console,) = {handler for handler in logging.getLogger().handlers if handler.name == "console"}
    assert isinstance(console.formatter, MaskingFormatter)
    # The test runner hangs handlers of its own, without a name, on it.
    assert {handler.name for handler in logging.getLogger("django.server").handlers if handler.name} == {"console"}


@pytest.mark.parametrize(("address", "form"), [("/sign-in/", "text/plain"), ("/api/lab/uploads/", "application/json")])
def test_upload_to_a_full_disk_is_refused_in_words(cast, api_for, monkeypatch, address, form):
    # Linux' device for a disk that is full.
    with open("/dev/full", "wb", 0) as full:
        monkeypatch.setattr("django.core.files.temp.NamedTemporaryFile", lambda **_options: full)
        client = api_for(cast.technician)
        client.raise_request_exception = False
        response = client.post(address, {"file": BytesIO(b"x" * (3 * django_settings.MEBIBYTE))}, format="multipart")
    assert response.status_code == 507
    assert "no room left" in response.content.decode()
    assert response.headers["Content-Type"].partition(";")[0] == form


def by_django():
    raise OperationalError from psycopg.errors.DiskFull()


def by_copy():
    raise psycopg.errors.DiskFull


def gone_in_copy():
    raise psycopg.OperationalError


@pytest.mark.parametrize(("fail", "status"), [(by_django, 507), (by_copy, 507), (gone_in_copy, 503)])
def test_failure_of_the_database_is_recognised_whoever_raises_it(visitor, monkeypatch, fail, status):
    monkeypatch.setattr(GateMiddleware, "process_view", lambda *_: fail())
    assert visitor.get("/").status_code == status


@pytest.mark.parametrize("address", ["/units/", "/api/lab/uploads/"])
def test_address_that_takes_a_post_alone_says_so_to_who_opens_it(visitor, address):
    response = visitor.get(address)
    assert response.status_code == 405
    assert "POST" in response.headers["Allow"]
    if address.startswith("/api/"):
        assert set(response.json()) == {"detail", "code", "fields"}
    else:
        assert "This address takes POST only" in response.content.decode()
