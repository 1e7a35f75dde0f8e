"""Session limits: a session ends after a time without a request, and after a working day in any case."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import SESSION_KEY, logout
from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.http import HttpRequest, HttpResponseBase

from core.accounts.security_log import note
from core.models import SecurityKind, User

BEGAN_AT = "began_at"
SEEN_AT = "seen_at"
# Recording the time of every request would cost a database write per request.
SEEN_EVERY_SECONDS = 60


@receiver(user_logged_in)
def note_beginning(request: HttpRequest, user: User, **kwargs: Any) -> None:
    request.session[BEGAN_AT] = request.session[SEEN_AT] = int(time.time())
    has_code = getattr(user, "otp_device", None) is not None
    note(SecurityKind.SIGNED_IN, user=user, actor=user, details="with a second factor" if has_code else "")


class SessionLimitsMiddleware:
    """End a session that is too old or has been idle too long, before anything is shown from it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        # Without the cookie the session is not even loaded.
        if settings.SESSION_COOKIE_NAME in request.COOKIES and SESSION_KEY in request.session:
            _enforce_limits(request)
        return self.get_response(request)


def _enforce_limits(request: HttpRequest) -> None:
    now = int(time.time())
    began, seen = request.session.get(BEGAN_AT, 0), request.session.get(SEEN_AT, 0)
    if now - began > settings.SESSION_HOURS * 3600:
        _end(request, f"You were signed out {_counted(settings.SESSION_HOURS, 'hour')} after signing in.")
    elif now - seen > settings.SESSION_IDLE_MINUTES * 60:
        minutes = _counted(settings.SESSION_IDLE_MINUTES, "minute")
        _end(request, f"You were signed out after {minutes} without activity.")
    elif now - seen >= SEEN_EVERY_SECONDS:
        request.session[SEEN_AT] = now


def _counted(number: int, unit: str) -> str:
    return f"{number} {unit}" if number == 1 else f"{number} {unit}s"


def _end(request: HttpRequest, why: str) -> None:
    logout(request)
    if not request.path.startswith("/api/"):
        messages.info(request, why)
