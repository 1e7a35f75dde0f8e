"""Facts about the current request that the audit trail and the templates read."""

from __future__ import annotations

import ipaddress
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme

UNITS_COOKIE = "units"
UNIT_SYSTEMS = ("metric", "imperial")


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a change comes from: `page`, `api` or `command`, the address, and an id shared by its audit entries."""

    kind: str
    where: str
    request_id: str


_origin: ContextVar[Origin | None] = ContextVar("origin", default=None)


def current_origin() -> Origin:
    return _origin.get() or Origin("command", "", "")


@contextmanager
def origin(kind: str, where: str = "", request_id: str = "") -> Iterator[Origin]:
    """Record this origin in every audit entry written inside the block."""
    value = Origin(kind, where, request_id or uuid.uuid4().hex)
    token = _origin.set(value)
    try:
        yield value
    finally:
        _origin.reset(token)


@contextmanager
def without_address() -> Iterator[Origin]:
    """Leave the address out of the audit entries written inside the block: it would be that of a customer."""
    here = current_origin()
    with origin(here.kind, "", here.request_id) as value:
        yield value


def client_address(request: HttpRequest) -> str:
    """Return the client address as the nearest trusted proxy saw it; empty if it is unknown.

    Each of the `PROXY_COUNT` proxies appends one entry to X-Forwarded-For. Entries further left come from the client
    and are not trusted.
    """
    seen = [entry.strip() for entry in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if entry.strip()]
    count = settings.PROXY_COUNT
    address = seen[-count] if 0 < count <= len(seen) else request.META.get("REMOTE_ADDR", "")
    try:
        return str(ipaddress.ip_address(address))
    except ValueError:
        return ""


def wanted_address(request: HttpRequest) -> str:
    """Return the `next` parameter of a request if it is an address on this site, otherwise an empty text."""
    wanted = request.POST.get("next", request.GET.get("next", ""))
    hosts = {request.get_host()}
    safe = url_has_allowed_host_and_scheme(wanted, allowed_hosts=hosts, require_https=request.is_secure())
    return wanted if safe and wanted.startswith("/") else ""


def units_of(request: HttpRequest) -> str:
    chosen = request.COOKIES.get(UNITS_COOKIE, "")
    return chosen if chosen in UNIT_SYSTEMS else UNIT_SYSTEMS[0]


def template_context(request: HttpRequest) -> dict[str, Any]:
    """Add the reader's system of units and the site's address to every template context."""
    return {"units": units_of(request), "site_url": settings.SITE_URL}
