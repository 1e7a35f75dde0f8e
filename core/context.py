"""What is known of the request at hand: read by the audit trail and by templates."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest

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


def units_of(request: HttpRequest) -> str:
    chosen = request.COOKIES.get(UNITS_COOKIE, "")
    return chosen if chosen in UNIT_SYSTEMS else UNIT_SYSTEMS[0]


def template_context(request: HttpRequest) -> dict[str, Any]:
    """Give every template the reader's system of units and the address of the site."""
    return {"units": units_of(request), "site_url": settings.SITE_URL}
