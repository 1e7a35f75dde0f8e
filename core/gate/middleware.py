"""Middleware for the request's origin and size, and for the gate in front of every page."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django_htmx.http import HttpResponseClientRedirect
from rest_framework.views import APIView

from core.gate import row_scope
from core.gate.access import PUBLIC, RequiredStep, allowed, declared_action, enter_scope, required_step
from core.gate.context import client_address, origin

GetResponse = Callable[[HttpRequest], HttpResponseBase]

# Allowance for the other fields of a form that uploads one file.
FORM_OVERHEAD_BYTES = 1024 * 1024

_GUARDED = "needs_a_role_or_sign_in"

REQUEST_ID = re.compile(r"[A-Za-z0-9_-]{8,64}")

# The page for each required step; the second step of sign-in starts with the first.
_STEP_PAGES = {
    RequiredStep.SECOND_STEP: settings.LOGIN_URL,
    RequiredStep.NEW_PASSWORD: "core:password-change",
    RequiredStep.SECOND_FACTOR: "core:second-factor",
}


class RequestContextMiddleware:
    """Give the request an id that its audit entries share, and refuse bodies over the size limit unread."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        kind = "api" if request.path.startswith("/api/") else "page"
        if _too_large(request):
            return _refuse_too_large(kind)
        with origin(kind, client_address(request), request_id_of(request)) as here, row_scope.of_request():
            setattr(request, "request_id", here.request_id)  # noqa: B010  not a field of Django's
            response = self.get_response(request)
        response.headers["X-Request-Id"] = here.request_id
        return response


def request_id_of(request: HttpRequest) -> str:
    """Return the id that a proxy of ours gave the request; empty without a proxy, as a visitor could choose any."""
    given = request.headers.get("X-Request-Id", "")
    return given if settings.PROXY_COUNT and REQUEST_ID.fullmatch(given) else ""


def _too_large(request: HttpRequest) -> bool:
    length = request.META.get("CONTENT_LENGTH") or "0"
    return length.isdecimal() and int(length) > settings.UPLOAD_MAX_BYTES + FORM_OVERHEAD_BYTES


def _refuse_too_large(kind: str) -> HttpResponse:
    limit = settings.UPLOAD_MAX_BYTES // settings.MEBIBYTE
    message = f"The upload is larger than {limit} MB. Send it in several parts, for example as smaller ZIP files."
    if kind == "api":
        return JsonResponse({"detail": message, "code": "too_large", "fields": {}}, status=413)
    return HttpResponse(message, status=413, content_type="text/plain; charset=utf-8")


class GateMiddleware:
    """Run a page's view only for users who have the action it declares; refuse views that declare none.

    API views are left to `GatePermission`, which knows the user of the token.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if getattr(request, _GUARDED, False) or _is_somebodys(request):
            # What only some may see must not wait in a cache for whoever uses the computer next.
            response.headers.setdefault("Cache-Control", "no-store")
        return response

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponseBase | None:
        action = declared_action(view, request.method)
        setattr(request, _GUARDED, action != PUBLIC)
        if _is_api(view):
            return None
        if action is None:
            raise PermissionDenied("This address does not declare who may use it.")
        if allowed(request.user, action):
            enter_scope(request.user, action)
            return None
        step = required_step(request.user)
        if step is None and request.user.is_authenticated:
            raise PermissionDenied("Your role does not allow this.")
        return _redirect_to(request, settings.LOGIN_URL if step is None else _STEP_PAGES[step])


def _is_somebodys(request: HttpRequest) -> bool:
    """Return whether an answer may hold something of the reader's own; a public page names who is signed in."""
    return settings.SESSION_COOKIE_NAME in request.COOKIES or "Authorization" in request.headers


def _redirect_to(request: Any, page: str) -> HttpResponseBase:
    """Redirect to a page that returns here afterwards, unless the request was a POST."""
    htmx = getattr(request, "htmx", None)
    if htmx:
        # Redirect the whole page; otherwise htmx would insert the sign-in page into the requested fragment.
        return HttpResponseClientRedirect(redirect_to_login(htmx.current_url_abs_path or "", login_url=page).url)
    back = request.get_full_path() if request.method in ("GET", "HEAD") else ""
    return redirect_to_login(back, login_url=page)


def _is_api(view: Callable[..., Any]) -> bool:
    holder = getattr(view, "cls", None)
    return isinstance(holder, type) and issubclass(holder, APIView)
