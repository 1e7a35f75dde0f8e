"""Browsers in which an account has signed in before: guesses from elsewhere do not slow its owner down there.

The cookie is a signed list of marks, one an account, because the people of a store share tablets. It opens nothing: a
password is still needed, and the limits by account and address still hold.
"""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.urls import reverse
from django.utils.crypto import salted_hmac

from core.models import User

COOKIE = "known_browser"
VALID_FOR = dt.timedelta(days=180)
MOST_ACCOUNTS = 10
MARK_CHARACTERS = 24


def is_known(request: HttpRequest, username: str) -> bool:
    """Return whether the account is signed in in this browser, or was within the last half year."""
    user = getattr(request, "user", None)
    if user is not None and user.is_authenticated and user.get_username() == username:
        return True
    return _mark(username) in _marks(request)


def remember(request: HttpRequest, response: HttpResponseBase, user: User) -> None:
    """Note in the browser that the account has just signed in."""
    own = _mark(user.username)
    marks = [own, *(mark for mark in _marks(request) if mark != own)][:MOST_ACCOUNTS]
    response.set_signed_cookie(
        COOKIE,
        ".".join(marks),
        salt=COOKIE,
        max_age=VALID_FOR,
        path=reverse("core:sign-in"),
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def _marks(request: HttpRequest) -> list[str]:
    signed = request.get_signed_cookie(COOKIE, default="", salt=COOKIE, max_age=VALID_FOR)
    return [mark for mark in (signed or "").split(".") if mark]


def _mark(username: str) -> str:
    return salted_hmac("core.accounts.known_browsers", username, algorithm="sha256").hexdigest()[:MARK_CHARACTERS]
