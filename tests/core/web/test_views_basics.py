"""Units, sign-in and the refusal of bodies that are too large."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from core.accounts.provisioning import user_create
from core.models import AuditEntry


def test_units_are_kept_in_a_cookie_and_lead_back(client, db):
    response = client.post(reverse("core:units-set"), {"units": "imperial", "next": "/stores/"})
    assert response.status_code == 302
    assert response.headers["Location"] == "/stores/"
    assert response.cookies["units"].value == "imperial"


@pytest.mark.parametrize("elsewhere", ["https://example.org/", "//example.org", "javascript:alert(1)", ""])
def test_units_never_lead_to_another_site(client, db, elsewhere):
    response = client.post(reverse("core:units-set"), {"units": "imperial", "next": elsewhere})
    assert response.headers["Location"] == "/"


def test_unknown_units_are_not_kept(client, db):
    response = client.post(reverse("core:units-set"), {"units": "cubits", "next": "/"})
    assert "units" not in response.cookies


@pytest.mark.parametrize(("path", "kind"), [("/api/lab/uploads/", "application/json"), ("/lab/", "text/plain")])
def test_body_over_the_limit_is_refused_unread(client, db, path, kind):
    response = client.post(path, b"x", content_type="text/plain", CONTENT_LENGTH=str(60 * 1024 * 1024))
    assert response.status_code == 413
    assert response.headers["Content-Type"].startswith(kind)
    assert b"50 MB" in response.content


@pytest.mark.parametrize(("debug", "works"), [(True, True), (False, False)])
def test_demo_account_signs_in_only_where_debug_is_on(client, db, settings, debug, works):
    settings.DEBUG_SIGN_IN = debug
    user_create(actor=None, username="somebody", password="a long pass phrase", is_demo=True)
    response = client.post(reverse("core:sign-in"), {"username": "somebody", "password": "a long pass phrase"})
    assert (response.status_code == 302) is works


def test_demo_token_is_refused_where_debug_is_off(api_for, settings, cast):
    cast.technician.is_demo = True
    cast.technician.save()
    client = api_for(cast.technician)
    assert client.get("/api/lab/tests/").status_code == 200
    settings.DEBUG_SIGN_IN = False
    assert client.get("/api/lab/tests/").status_code == 401


def test_issued_token_opens_the_api_and_is_in_the_trail(cast, capsys):
    call_command("issue_token", "technician")
    token = capsys.readouterr().out.strip()
    response = Client().get("/api/lab/tests/", HTTP_AUTHORIZATION=f"Token {token}")
    assert response.status_code == 200
    entry = AuditEntry.objects.get(action="core.token.issued")
    assert entry.object_id == str(cast.technician.pk)
    assert token not in entry.payload


def test_token_for_nobody_says_so(db):
    with pytest.raises(CommandError, match="No active account has the user name 'nobody'"):
        call_command("issue_token", "nobody")


@pytest.mark.parametrize(
    ("person", "page"),
    [
        ("fitter_a", "fittings:home"),
        ("manager_a", "fittings:home"),
        ("technician", "labtests:home"),
        ("office", "outcomes:home"),
    ],
)
def test_home_leads_to_the_days_work(cast, sign_in, person, page):
    client = sign_in(getattr(cast, person))
    assert client.get(reverse("core:home")).headers["Location"] == reverse(page)


def test_error_bodies_of_the_api_are_json(client, db):
    response = client.get("/api/no-such-address/")
    assert response.status_code == 404
    assert response.json()["code"] == "http_404"


def test_schema_builds_without_warnings(client, db, capsys):
    from drf_spectacular.drainage import GENERATOR_STATS

    GENERATOR_STATS.reset()
    response = client.get("/api/schema/")
    assert response.status_code == 200
    assert not GENERATOR_STATS, capsys.readouterr().err
