"""Pages that are answered with 304 where the reader has them already."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponseBase, HttpResponseNotModified
from django.utils.cache import patch_vary_headers

from catalogue import selectors
from catalogue.views.size_system import remember_size_system, size_system_of
from core.database.sources import answer_from_source, forget_source, reading_from, source_of
from core.gate.context import units_of
from core.web.conditional import answered, program_mark

View = Callable[..., HttpResponseBase]


def _page_etag(request: HttpRequest, mark: str) -> str | None:
    """Return the mark of a page, or None where it may hold something of the reader's own.

    The token that guards forms is part of the page, so a reader who has lost the cookie needs a fresh page. The
    address is part of the mark, so that a mark is known by itself to have been given for this page.
    """
    cookies = request.COOKIES
    if settings.SESSION_COOKIE_NAME in cookies or "messages" in cookies:
        return None
    own = (
        mark,
        program_mark(),
        request.get_full_path(),
        units_of(request),
        size_system_of(request),
        cookies.get(settings.CSRF_COOKIE_NAME, ""),
        request.META.get("HTTP_HX_REQUEST", "") + request.META.get("HTTP_HX_HISTORY_RESTORE_REQUEST", ""),
    )
    return f'"{hashlib.sha256("|".join(own).encode()).hexdigest()[:32]}"'


class UnchangedMiddleware:
    """Answer 304 before sessions, sign-in and addresses are looked at, where a reader has the very page already.

    A mark is checked by computing it again: whoever sends it was given this page, at this address, since the last
    change. So this comes before everything but the static files, and costs one small query.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        known = request.META.get("HTTP_IF_NONE_MATCH")
        if known is not None and request.method in ("GET", "HEAD") and _is_unchanged(request, known):
            return _not_modified(known)
        return self.get_response(request)


def _revision_of(request: Any) -> selectors.Revision:
    """Return the revision that a request is answered from, read once."""
    if not hasattr(request, "catalogue_revision"):
        request.catalogue_revision = selectors.revision()
    found: selectors.Revision = request.catalogue_revision
    return found


def _forget_revision(request: Any) -> None:
    vars(request).pop("catalogue_revision", None)


def _is_unchanged(request: HttpRequest, known: str) -> bool:
    if len(known) > _MARK_MOST or request.path_info.startswith("/api/"):
        return False
    try:
        with reading_from(source_of(request)):
            etag = _page_etag(request, _revision_of(request).whole)
    except DatabaseError as problem:
        forget_source(request, problem)
        return False  # the view says what is the matter
    return etag is not None and known.removeprefix("W/") == etag


# A mark in its quotation marks, weak after compression.
_MARK_MOST = 40


def _not_modified(etag: str) -> HttpResponseBase:
    response = HttpResponseNotModified()
    response.headers["ETag"] = etag
    response.headers["Cache-Control"] = "no-cache"
    response.headers["Vary"] = "Cookie, HX-Request, Accept-Encoding"
    return response


def page_by_revision_and(more: Callable[[], str]) -> Callable[[View], View]:
    """Give a public page the revision it is drawn from, and answer 304 where the reader has it already.

    `more` returns a mark of what else the page shows.
    """

    def decorate(view: View) -> View:
        @wraps(view)
        def inner(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            def read() -> HttpResponseBase:
                mark = _revision_of(request)
                etag = _page_etag(request, mark.whole + more())
                return answered(request, etag, lambda: view(request, *args, revision=mark, **kwargs))

            response = answer_from_source(request, read, again=lambda: _forget_revision(request))
            patch_vary_headers(response, ("Cookie", "HX-Request"))
            remember_size_system(request, response)
            return response

        return inner

    return decorate


page_by_revision = page_by_revision_and(str)
