"""The page around the list of shoes, drawn once for all visitors: drawn each time it took an eighth of the page's rate.

It holds nothing of the catalogue, only the site's own words; somebody signed in has a page of their own.
"""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from functools import lru_cache

from django.conf import settings
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.html import escape
from django.utils.safestring import SafeString

from catalogue.views.public.list_results import Results
from core.gate.context import units_of

TEMPLATE = "catalogue/shoe_list.html"
# In place of what differs from reader to reader; nobody outside this process knows it.
_GAP = secrets.token_hex(16)


def _gap(name: str) -> SafeString:
    return SafeString(f"{_GAP}{name}{_GAP}")


@dataclass(frozen=True, slots=True)
class _Request:
    """Takes the request's place while the frame is drawn."""

    path: str
    method: str = "GET"

    def get_full_path(self) -> str:
        return _gap("address")


@lru_cache(maxsize=4)
def _frame(path: str, units: str, site_url: str) -> tuple[str, ...]:
    """Return text and names of gaps in turn."""
    context = {
        "request": _Request(path),
        "user": AnonymousUser(),
        "units": units,
        "site_url": site_url,
        "csrf_token": _gap("token"),
        "results": {name: _gap(name) for name in ("title", "description", "filters", "markup")},
        "canonical": _gap("canonical"),
    }
    return tuple(re.split(f"{_GAP}([a-z]+){_GAP}", render_to_string(TEMPLATE, context)))


def list_page(request: HttpRequest, results: Results, canonical: str) -> HttpResponse:
    """Answer with the page of the list around its results."""
    if settings.SESSION_COOKIE_NAME in request.COOKIES or "messages" in request.COOKIES:
        return render(request, TEMPLATE, {"results": results, "canonical": canonical})
    inside = {
        "title": escape(results.title),
        "description": escape(results.description),
        "filters": results.filters,
        "markup": results.markup,
        "canonical": escape(canonical),
        "address": escape(request.get_full_path()),
        "token": get_token(request),
    }
    pieces = _frame(request.path, units_of(request), settings.SITE_URL)
    return HttpResponse("".join(inside[piece] if place % 2 else piece for place, piece in enumerate(pieces)))
