"""Every address with every role: nobody gets further than the gate says, and nothing fails."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client
from django.urls import NoReverseMatch, reverse
from knox.models import AuthToken

from core.gate.access import PUBLIC, SIGNED_IN, allowed, declared_action, registered
from core.gate.checks import methods_of, url_patterns
from tests.people import make_cast

ANONYMOUS = "anonymous"
ROLES = ["fitter_a", "manager_a", "fitter_b", "technician", "reviewer", "office", ANONYMOUS]

# Addresses that anybody may open. A new one is a decision: it is added here on purpose.
OPEN = {
    "core:sign-in",
    "core:second-step",
    "core:welcome",
    "core:units-set",
    "core:healthz",
    "core:readyz",
    # Asks for a token of its own.
    "core:metrics",
    "core:schema",
    "catalogue:shoe-list",
    "catalogue:shoe-detail",
    "catalogue:shoe-similar",
    "catalogue:shoe-picture",
    "catalogue:picture",
    "catalogue:photo-file",
    "catalogue:shoe-compare",
    "catalogue:shoe-replace",
    "catalogue:remembered",
    "catalogue:icon",
    "catalogue:manifest",
    "catalogue:service-worker",
    "catalogue:offline",
    "catalogue:screen",
    "catalogue:poster",
    "catalogue:poster-file",
    "catalogue:robots",
    "catalogue:sitemap",
    "catalogue:sitemap-part",
    "catalogue:store-list",
    "catalogue:store-detail",
    "catalogue:method",
    "catalogue-api:shoe-list",
    "catalogue-api:shoe-detail",
    "catalogue-api:shoe-similar",
    "catalogue-api:shoe-curves",
    "catalogue-api:band-list",
    "catalogue-api:store-list",
    "fittings-api:request-list",
    "start:home",
    "start:ask",
    "start:evidence",
    "start:asked",
    "customer:card",
    "customer:answer",
    "customer:signs",
    "customer:mail-stop",
}

# One value for each kind of part of an address; no such record exists, which a role that passes the gate sees as 404.
SAMPLES = {"slug": "no-such", "int": 999_999, "str": "no-such", "uuid": "00000000-0000-0000-0000-000000000000"}


def every_address():
    return [
        pytest.param(name, pattern, method, id=f"{name}-{method}")
        for name, pattern in url_patterns()
        for method in methods_of(pattern.callback)
    ]


def address_of(name, pattern):
    parts = re.findall(r"<(?:(\w+):)?(\w+)>", str(pattern.pattern))
    return reverse(name, kwargs={part: SAMPLES[kind or "str"] for kind, part in parts})


def is_api(pattern):
    return hasattr(pattern.callback, "cls")


@pytest.mark.parametrize(("name", "pattern", "method"), every_address())
def test_address_declares_a_known_action(name, pattern, method):
    action = declared_action(pattern.callback, method)
    assert action is not None
    assert action in {PUBLIC, SIGNED_IN, *registered()}


def test_open_addresses_are_the_listed_ones():
    found = {
        name
        for name, pattern in url_patterns()
        for method in methods_of(pattern.callback)
        if declared_action(pattern.callback, method) == PUBLIC
    }
    assert found == OPEN


@pytest.fixture(scope="module")
def doors(django_db_setup, django_db_blocker):
    """Everybody, with a session and a token each, made once: what a request writes is undone before the next one."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield {role: Door.of(person) for role, person in make_cast().members().items()} | {ANONYMOUS: Door()}
        transaction.set_rollback(True)


@dataclass(frozen=True)
class Door:
    """How one person comes in: nobody without an account."""

    person: Any = None
    session: str = ""
    token: str = ""

    @classmethod
    def of(cls, person):
        client = Client()
        client.force_login(person)
        return cls(person, client.session.session_key, AuthToken.objects.create(person)[1])

    def ask(self, method, address, *, by_token):
        client = Client(HTTP_HOST="testserver")
        if self.person and not by_token:
            client.cookies[settings.SESSION_COOKIE_NAME] = self.session
        return client.generic(method, address, headers={"Authorization": f"Token {self.token}"} if by_token else None)


@pytest.mark.parametrize(("name", "pattern", "method"), every_address())
def test_address_answers_each_role_as_the_gate_says(name, pattern, method, doors):
    for role, door in doors.items():
        by_token = door.person is not None and is_api(pattern)
        with transaction.atomic():
            response = door.ask(method, address_of(name, pattern), by_token=by_token)
            transaction.set_rollback(True)
        check_answer(response, pattern, method, door.person, role)


def check_answer(response, pattern, method, person, role):
    action = declared_action(pattern.callback, method)
    if action != PUBLIC:
        assert "no-store" in response.headers["Cache-Control"], role
    if action == PUBLIC or (person is not None and allowed(person, action)):
        assert response.status_code not in (401, 403), (role, response.content[:300])
        assert response.status_code < 500, role
    elif person is not None:
        assert response.status_code == 403, role
    elif is_api(pattern):
        assert response.status_code == 401, role
    else:
        assert response.status_code == 302, role
        assert reverse("core:sign-in") in response.headers["Location"], role


def test_address_names_are_unique():
    names = [name for name, _ in url_patterns()]
    assert len(names) == len(set(names))


def test_unknown_action_is_refused_at_import():
    from django.core.exceptions import ImproperlyConfigured

    from core.gate.access import gate

    with pytest.raises(ImproperlyConfigured, match="Unknown action"):
        gate("nothing.of:this")


def test_view_without_declaration_is_refused(rf, doors):
    from django.core.exceptions import PermissionDenied
    from django.http import HttpResponse

    from core.gate.middleware import GateMiddleware

    request = rf.get("/")
    request.user = doors["office"].person
    with pytest.raises(PermissionDenied, match="does not declare who"):
        GateMiddleware(HttpResponse).process_view(request, HttpResponse, (), {})


def test_no_template_or_view_looks_at_roles_itself():
    from pathlib import Path

    root = Path(__file__).parents[3]
    sources = [
        path
        for folder in ("templates", "catalogue", "labtests", "fittings")
        for path in (root / folder).rglob("*")
        if path.suffix in {".py", ".html"}
    ]
    offenders = [str(path) for path in sources if re.search(r"is_staff|user\.groups\b|has_perm", path.read_text())]
    assert sources
    assert offenders == []


def test_every_reverse_works():
    for name, pattern in url_patterns():
        try:
            address_of(name, pattern)
        except (NoReverseMatch, KeyError) as problem:
            pytest.fail(f"{name}: {problem!r}; give SAMPLES a value for its parts")
