"""Pages of our own where Django would show another: the database out of reach, and unknown addresses under DEBUG."""

from __future__ import annotations

import sys
from dataclasses import asdict
from typing import Any

from csp.constants import HEADER
from csp.middleware import CSPMiddleware
from csp.utils import build_policy
from django.conf import settings
from django.core.signals import got_request_exception
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.template.loader import get_template

from core.gate.middleware import GetResponse
from core.web import views

RETRY_SECONDS = 5
UNREACHABLE = "The database can't be reached just now. Nothing was half saved; try again in a minute."
_MARK = "database_is_out_of_reach"


def _note(sender: Any, request: HttpRequest | None = None, **kwargs: Any) -> None:
    """Mark a request that failed because of the database, wherever on its way that was."""
    if request is not None and isinstance(sys.exc_info()[1], (OperationalError, InterfaceError)):
        setattr(request, _MARK, True)


got_request_exception.connect(_note, dispatch_uid="core.error_pages")


class PolicyMiddleware(CSPMiddleware):
    """Send the content security policy with every page, under DEBUG with a 404 too: that page is our own.

    Only the page about a failure that Django draws under DEBUG goes without: it needs its own inline scripts.
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        response = super().process_response(request, response)
        if settings.DEBUG and response.status_code == 404 and HEADER not in response:
            response.headers[HEADER] = build_policy(**asdict(self.get_policy_parts(request, response)))
        return response


class ErrorPagesMiddleware:
    """Answer 503 instead of 500 where the database is out of reach; under DEBUG too show visitors' page for a 404.

    Middleware further in, the sessions' for one, may fail before any view runs: Django then makes an answer of the
    failure at once. So the failure is noted as it is told, and its answer replaced on the way out.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if getattr(request, _MARK, False):
            return unavailable(request)
        if settings.DEBUG and response.status_code == 404 and request.resolver_match is None:
            return views.not_found(request, Http404())
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        is_unknown = settings.DEBUG and isinstance(exception, Http404)
        return views.not_found(request, exception) if is_unknown else None


def unavailable(request: HttpRequest) -> HttpResponse:
    """Say that the database is out of reach; asks nothing of it."""
    headers = {"Retry-After": str(RETRY_SECONDS), "Cache-Control": "no-store"}
    if request.path.startswith("/api/"):
        body = {"detail": UNREACHABLE, "code": "unavailable", "fields": {}}
        return JsonResponse(body, status=503, headers=headers)
    return HttpResponse(get_template("503.html").render(), status=503, headers=headers)
