"""A token may do what its scope says, for a year at most, and ends with the access that it was made with."""

from __future__ import annotations

import datetime as dt
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from knox.models import AuthToken
from rest_framework.test import APIClient

from core.accounts import second_factor
from core.accounts import services as accounts
from core.accounts.links import link_renew
from core.accounts.provisioning import token_issue
from core.audit import entries_of
from core.gate.access import declared_action
from core.gate.checks import methods_of, url_patterns
from core.gate.token_scopes import READING, TokenScope, within_scope
from core.models import SecurityEvent, TokenNote

PASSWORD = "a long pass phrase"
UPLOADS = "/api/lab/uploads/"


def client_of(token):
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Token {token}")
    return client


def program(username, scope):
    return client_of(token_issue(actor=None, username=username, scope=scope))


def test_reading_token_reads_and_changes_nothing(people):
    reader = program("technician", TokenScope.READ)
    assert reader.get("/api/lab/tests/").status_code == 200
    refused = reader.post(UPLOADS, {"file": SimpleUploadedFile("a.csv", b"x")})
    assert refused.status_code == 403
    assert "reading only" in refused.json()["detail"]


def test_token_of_a_rig_uploads_and_does_nothing_else(people):
    rig = program("technician", TokenScope.UPLOAD)
    assert rig.post(UPLOADS, {"file": SimpleUploadedFile("a.csv", b"x")}).status_code == 201
    for address in ("/api/lab/tests/", reverse("catalogue-api:shoe-list"), "/api/lab/bench/"):
        refused = rig.get(address)
        assert refused.status_code == 403, address
        assert "uploading bench files only" in refused.json()["detail"]


def test_scopes_leave_these_addresses_of_the_whole_api():
    """The scope is asked for every address at one place; this is what it leaves."""
    api = [
        (name, method, declared_action(pattern.callback, method))
        for name, pattern in url_patterns()
        if hasattr(pattern.callback, "cls")
        for method in methods_of(pattern.callback)
    ]
    left = {scope: {(n, m) for n, m, action in api if within_scope(scope, action, m)} for scope in TokenScope}
    assert left[TokenScope.UPLOAD] == {("labtests-api:upload-list", "POST")}
    assert {method for _, method in left[TokenScope.READ]} <= READING
    assert len(left[TokenScope.FULL]) == len(api)


def test_scope_gives_no_rights_that_the_roles_do_not(people):
    fitter = program("fitter-a", TokenScope.UPLOAD)
    assert fitter.post(UPLOADS, {"file": SimpleUploadedFile("a.csv", b"x")}).status_code == 403


def test_duties_bind_the_holder_of_a_token(people, settings):
    reviewer = program("reviewer", TokenScope.FULL)
    settings.REQUIRE_SECOND_FACTOR = True
    refused = reviewer.get("/api/lab/tests/")
    assert refused.status_code == 403
    assert "set up a second factor" in refused.json()["detail"]
    settings.REQUIRE_SECOND_FACTOR = False
    people.reviewer.must_change_password = True
    people.reviewer.save()
    assert "choose a new password" in reviewer.get("/api/lab/tests/").json()["detail"]


def test_token_is_refused_after_a_year_whatever_its_row_says(people):
    client = program("technician", TokenScope.FULL)
    AuthToken.objects.update(expiry=None, created=timezone.now() - dt.timedelta(days=364))
    assert client.get("/api/lab/tests/").status_code == 200
    AuthToken.objects.update(created=timezone.now() - dt.timedelta(days=366))
    refused = client.get("/api/lab/tests/")
    assert refused.status_code == 401
    assert "more than a year old" in refused.json()["detail"]


def test_no_token_is_made_for_longer_than_a_year(people):
    accounts.token_make(actor=people.technician, days=5000)
    row = AuthToken.objects.get()
    assert row.expiry - row.created <= dt.timedelta(days=365, seconds=1)
    assert "valid for 365 days" in entries_of(people.technician).first().content["reason"]


@pytest.mark.parametrize(
    "act",
    [
        lambda people: accounts.password_reset(actor=people.office, user=people.technician, reason="forgotten"),
        lambda people: link_renew(actor=people.office, user=people.technician, reason="lost"),
        lambda people: second_factor.second_factor_lift(actor=people.office, user=people.technician, reason="phone"),
        lambda people: accounts.account_switch_off(actor=people.office, user=people.technician, reason="left"),
    ],
)
def test_tokens_end_with_the_access_they_were_made_with(people, device_for, act):
    device_for(people.technician)
    client = program("technician", TokenScope.FULL)
    act(people)
    assert client.get("/api/lab/tests/").status_code == 401
    assert not AuthToken.objects.exists()


@pytest.mark.parametrize("revoke", [True, False])
def test_own_new_password_offers_to_revoke_the_tokens(people, client, give_password, revoke):
    give_password("technician", client=client)
    page = reverse("core:password-change")
    assert "Revoke my API tokens too" not in client.get(page).content.decode()
    token_issue(actor=None, username="technician")
    token_issue(actor=None, username="technician")
    text = client.get(page).content.decode()
    assert "Revoke my API tokens too" in text
    assert "You have 2 API tokens" in text
    data = {"current_password": PASSWORD, "new_password": "quite another phrase"}
    data["new_password_again"] = data["new_password"]
    if revoke:
        data["revoke_tokens"] = "on"
    assert client.post(page, data).status_code == 302
    assert AuthToken.objects.count() == (0 if revoke else 2)
    revoked = entries_of(people.technician).filter(action="core.token.revoked")
    assert revoked.count() == (2 if revoke else 0)


def test_page_and_command_make_tokens_of_a_scope(people, client, give_password):
    give_password("technician", client=client)
    data = {"label": "rig 2", "days": 90, "scope": "upload", "current_password": PASSWORD}
    assert client.post(reverse("core:token-new"), data).status_code == 200
    assert TokenNote.objects.get().scope == TokenScope.UPLOAD
    assert "uploading bench files only" in client.get(reverse("core:account")).content.decode()
    assert "uploading bench files only" in SecurityEvent.objects.get(kind="token-issued").details
    call_command("issue_token", "technician", "--scope", "read", stdout=io.StringIO())
    assert TokenNote.objects.filter(scope=TokenScope.READ).exists()
