"""The page around the list of shoes, drawn once for all visitors: it took most of the time of a page.

What differs from visitor to visitor and from address to address is left open and put in as text. Only for readers
without a session; somebody signed in has a page of their own.
"""

from __future__ import annotations

import re
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

from core.context import units_of

TEMPLATE = "catalogue/shoe_list.html"
# A character that no text of a page has and that is nothing to escape.
MARK = "\ue000"


def _open(name: str) -> SafeString:
    return SafeString(f"{MARK}{name}{MARK}")


@dataclass(frozen=True, slots=True)
class _Place:
    """Stands for the request while the frame is drawn: where the page lies, the rest left open."""

    path: str
    method: str = "GET"

    def get_full_path(self) -> str:
        return _open("address")


@dataclass(frozen=True, slots=True)
class _Inside:
    filters: str = _open("filters")
    markup: str = _open("markup")


@lru_cache(maxsize=8)
def _pieces(path: str, units: str, site_url: str) -> tuple[str, ...]:
    """Draw the frame and cut it at what is left open: text, name, text, name, …, text."""
    context = {
        "request": _Place(path),
        "user": AnonymousUser(),
        "units": units,
        "site_url": site_url,
        "csrf_token": _open("token"),
        "results": _Inside(),
        "canonical": _open("canonical"),
    }
    return tuple(re.split(f"{MARK}(\\w+){MARK}", render_to_string(TEMPLATE, context)))


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
    return HttpResponse("".join(inside[piece] if place % 2 else piece for place, piece in enumerate(pieces)))
