"""Answering "nothing has changed" before anything is read or drawn."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import cache, wraps
from pathlib import Path
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.utils.cache import get_conditional_response, patch_cache_control, patch_vary_headers

from catalogue import selectors
from core.context import units_of

View = Callable[..., HttpResponseBase]


@cache
def _build() -> str:
    """Return a mark of the programs and templates that draw the pages, so that a new version of them is a change."""
    folders = [settings.BASE_DIR / "templates", Path(__file__).parent, settings.BASE_DIR / "core"]
    files = sorted(path for folder in folders for path in folder.rglob("*") if path.suffix in (".html", ".py", ".css"))
    digest = hashlib.sha256()
    for path in files:
        digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def _page_etag(request: HttpRequest, mark: str) -> str | None:
    """Return the mark of a page, or None where it may hold something of the reader's own.

    The token that guards forms is part of the page, so a reader who has lost the cookie needs a fresh page.
    """
    if settings.SESSION_COOKIE_NAME in request.COOKIES or "messages" in request.COOKIES:
        return None
    own = (
        mark,
        _build(),
        units_of(request),
        request.COOKIES.get(settings.CSRF_COOKIE_NAME, ""),
        request.headers.get("HX-Request", "") + request.headers.get("HX-History-Restore-Request", ""),
    )
    return f'"{hashlib.sha256("|".join(own).encode()).hexdigest()[:32]}"'


def _answered(request: Any, etag: str | None, call: Callable[[], HttpResponseBase]) -> HttpResponseBase:
    known = get_conditional_response(request, etag=etag) if etag else None
    response: HttpResponseBase = call() if known is None else known
    if etag and response.status_code in (200, 304):
        response.headers["ETag"] = etag
        # Kept, but asked about each time: a shoe that was withdrawn is gone at once.
        patch_cache_control(response, no_cache=True)
    return response


def page_by_revision_and(more: Callable[[], str]) -> Callable[[View], View]:
    """Give a public page the revision it is drawn from, and answer 304 where the reader has it already.

    `more` returns a mark of what else the page shows.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            mark = selectors.revision()
            etag = _page_etag(request, mark.whole + more())
            response = _answered(request, etag, lambda: view(request, *args, revision=mark, **kwargs))
            patch_vary_headers(response, ("Cookie", "HX-Request"))
            return response

        return inner

    return decorate


page_by_revision = page_by_revision_and(str)


def api_by_revision(method: View) -> View:
    """The same for the `get` of an API view; what it answers depends on the address and the revision alone."""

    @wraps(method)
    def inner(view: Any, request: Any, *args: Any, **kwargs: Any) -> HttpResponseBase:
        mark = selectors.revision()
        etag = f'"{mark.whole}-{_build()}"'
        return _answered(request, etag, lambda: method(view, request, *args, revision=mark, **kwargs))

    return inner
