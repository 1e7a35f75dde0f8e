"""Templates drawn once and cut at what differs from page to page: drawing them took most of the time of a page.

The page around the list of shoes is kept so for all visitors. Only for readers without a session; somebody signed in
has a page of their own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.html import escape
from django.utils.safestring import SafeString

from core.gate.context import units_of

TEMPLATE = "catalogue/shoe_list.html"
# A character that no text of a page has and that is nothing to escape.
MARK = "\ue000"


Pieces = tuple[str, ...]


def left_open(name: str) -> SafeString:
    """Stand in a template for what is put in later, under this name."""
    return SafeString(f"{MARK}{name}{MARK}")


def cut(template: str, context: Mapping[str, Any]) -> Pieces:
    """Draw a template and cut it at what is left open: text, name, text, name, …, text."""
    return tuple(re.split(f"{MARK}([^{MARK}]+){MARK}", render_to_string(template, dict(context))))


def filled(pieces: Pieces, inside: Mapping[str, str]) -> SafeString:
    """Put the pieces together; everything put in must be escaped already."""
    return SafeString("".join(inside[piece] if place % 2 else piece for place, piece in enumerate(pieces)))


@dataclass(frozen=True, slots=True)
class _Place:
    """Stands for the request while the frame is drawn: where the page lies, the rest left open."""

    path: str
    method: str = "GET"

    def get_full_path(self) -> str:
        return left_open("address")


@dataclass(frozen=True, slots=True)
class _Inside:
    filters: str = left_open("filters")
    markup: str = left_open("markup")


@lru_cache(maxsize=8)
def _pieces(path: str, units: str, site_url: str) -> Pieces:
    context = {
        "request": _Place(path),
        "user": AnonymousUser(),
        "units": units,
        "site_url": site_url,
        "csrf_token": left_open("token"),
        "results": _Inside(),
        "canonical": left_open("canonical"),
    }
    return cut(TEMPLATE, context)


def is_visitor(request: HttpRequest) -> bool:
    """Say whether nothing is known of the reader but their units."""
    return settings.SESSION_COOKIE_NAME not in request.COOKIES and "messages" not in request.COOKIES


def list_page(request: HttpRequest, results: Any, canonical: str) -> HttpResponse:
    """Answer with the page of the list around its results (`filters` and `markup`)."""
    if not is_visitor(request):
        return render(request, TEMPLATE, {"results": results, "canonical": canonical})
    inside = {
        "filters": results.filters,
        "markup": results.markup,
        "canonical": escape(canonical),
        "address": escape(request.get_full_path()),
        "token": get_token(request),
    }
    pieces = _pieces(request.path, units_of(request), settings.SITE_URL)
    return HttpResponse(filled(pieces, inside))
