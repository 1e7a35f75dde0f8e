"""Error pages that replace Django's: for an unreachable database, and for unknown addresses under DEBUG."""

from __future__ import annotations

import errno
import sys
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

import psycopg
from csp.constants import HEADER
from csp.middleware import CSPMiddleware
from csp.utils import build_policy
from django.conf import settings
from django.core.signals import got_request_exception
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, HttpResponseNotAllowed, JsonResponse
from django.template.loader import get_template
from psycopg.errors import DiskFull, ReadOnlySqlTransaction, UndefinedTable

from core.gate.middleware import GetResponse
from core.web import views

RETRY_SECONDS = 5
UNREACHABLE = "The database cannot be reached at the moment. Nothing was partly saved. Try again in a minute."
_MARK = "database_is_out_of_reach"
NO_ROOM = (
    "The server has no room left to store this. Nothing was saved. Try again later, or ask whoever runs the server."
)
_FULL_MARK = "disk_is_full"
_AWAY = (psycopg.OperationalError, psycopg.InterfaceError, ReadOnlySqlTransaction, UndefinedTable)
# Full, over the user's share, or turned read-only after a fault of the disk.
_FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EROFS})


def _note(sender: Any, request: HttpRequest | None = None, **kwargs: Any) -> None:
    """Mark a request that failed because of the database, wherever in the stack that happened.

    A server that may only be read is a replica, or a primary that is being replaced: soon another one answers. One
    without our tables has not been migrated yet.
    """
    problem = sys.exc_info()[1]
    if request is None:
        return
    # COPY raises the driver's errors, other statements Django's, with the driver's as their cause.
    cause = problem if isinstance(problem, psycopg.Error) else getattr(problem, "__cause__", None)
    if isinstance(cause, DiskFull) or (isinstance(problem, OSError) and problem.errno in _FULL):
        setattr(request, _FULL_MARK, True)
    elif isinstance(cause, _AWAY) or isinstance(problem, (OperationalError, InterfaceError)):
        setattr(request, _MARK, True)


got_request_exception.connect(_note, dispatch_uid="core.error_pages")


NO_DEVICES = "camera=(), microphone=(), geolocation=()"


class PolicyMiddleware(CSPMiddleware):
    """Send the content security policy with every page, including our own 404 page under DEBUG.

    No page may use camera, microphone or location, unless its view says otherwise in the same header.

    Only Django's debug page for errors has no policy, because it needs its inline scripts.
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        response = super().process_response(request, response)
        if settings.DEBUG and response.status_code == 404 and HEADER not in response:
            response.headers[HEADER] = build_policy(**asdict(self.get_policy_parts(request, response)))
        response.headers.setdefault("Permissions-Policy", NO_DEVICES)
        return response


class ErrorPagesMiddleware:
    """Answer 503 instead of 500 when the database is unreachable, and show our pages for 405, and for 404 under DEBUG.

    An address with NUL names nothing, and PostgreSQL would refuse to look for it, so it is 404 before any view.

    Inner middleware, such as that of sessions, may fail before any view runs, and Django converts the exception to a
    response at once. So a signal handler marks the request, and its response is replaced on the way out.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if getattr(request, _MARK, False):
            return unavailable(request)
        if getattr(request, _FULL_MARK, False):
            return _no_room(request)
        if isinstance(response, HttpResponseNotAllowed):
            return views.method_not_allowed(request, response.headers["Allow"])
        if settings.DEBUG and response.status_code == 404 and request.resolver_match is None:
            return views.not_found(request, Http404())
        return response

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        return views.not_found(request, Http404()) if "\x00" in request.path else None

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        is_unknown = settings.DEBUG and isinstance(exception, Http404)
        return views.not_found(request, exception) if is_unknown else None


def _no_room(request: HttpRequest) -> HttpResponse:
    """Return the answer where this machine or the database's has no room to write, for example an upload on its way."""
    headers = {"Cache-Control": "no-store"}
    if request.path.startswith("/api/"):
        return JsonResponse({"detail": NO_ROOM, "code": "no_room", "fields": {}}, status=507, headers=headers)
    return HttpResponse(NO_ROOM, status=507, content_type="text/plain; charset=utf-8", headers=headers)


def unavailable(request: HttpRequest) -> HttpResponse:
    """Return the answer for an unreachable database, without a query."""
    headers = {"Retry-After": str(RETRY_SECONDS), "Cache-Control": "no-store"}
    if request.path.startswith("/api/"):
        body = {"detail": UNREACHABLE, "code": "unavailable", "fields": {}}
        return JsonResponse(body, status=503, headers=headers)
    return HttpResponse(get_template("503.html").render(), status=503, headers=headers)
