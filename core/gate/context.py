"""What is known of the request at hand: read by the audit trail and by templates."""

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
    """Where a change comes from: `page`, `api` or `command`, the address, and an id that ties its entries together."""

    kind: str
    where: str
    request_id: str


_origin: ContextVar[Origin | None] = ContextVar("origin", default=None)


def current_origin() -> Origin:
    return _origin.get() or Origin("command", "", "")


@contextmanager
def origin(kind: str, where: str = "", request_id: str = "") -> Iterator[Origin]:
    """Mark everything done inside as coming from there."""
    value = Origin(kind, where, request_id or uuid.uuid4().hex)
    token = _origin.set(value)
    try:
        yield value
    finally:
        _origin.reset(token)


def client_address(request: HttpRequest) -> str:
    """Return the address that a request comes from, as the nearest trusted proxy saw it; empty where nobody knows.

    Each of the `PROXY_COUNT` proxies in front adds one entry on the right of X-Forwarded-For. What stands further
    left was written by the visitor and is not believed.
    """
    seen = [entry.strip() for entry in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if entry.strip()]
    count = settings.PROXY_COUNT
    address = seen[-count] if 0 < count <= len(seen) else request.META.get("REMOTE_ADDR", "")
    try:
        return str(ipaddress.ip_address(address))
    except ValueError:
        return ""


def wanted_address(request: HttpRequest) -> str:
    """Return the `next` that a request names, if it is an address on this site; else nothing."""
    wanted = request.POST.get("next", request.GET.get("next", ""))
    hosts = {request.get_host()}
    safe = url_has_allowed_host_and_scheme(wanted, allowed_hosts=hosts, require_https=request.is_secure())
    return wanted if safe and wanted.startswith("/") else ""


def units_of(request: HttpRequest) -> str:
    chosen = request.COOKIES.get(UNITS_COOKIE, "")
    return chosen if chosen in UNIT_SYSTEMS else UNIT_SYSTEMS[0]


def template_context(request: HttpRequest) -> dict[str, Any]:
    """Give every template the reader's system of units and the address of the site."""
    return {"units": units_of(request), "site_url": settings.SITE_URL}
