"""Signing in by password and by token. Demo accounts are refused wherever DEBUG is off."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.conf import settings
from django.contrib.auth.backends import ModelBackend
from django.db import connection
from django.utils import timezone
from drf_spectacular.contrib.knox_auth_token import KnoxTokenScheme
from knox.auth import TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed

from core.accounts.selectors import with_second_factor
from core.accounts.services import password_rehash
from core.models import User

NOTED_EVERY = dt.timedelta(hours=1)
# One statement, so that it works whether or not there is a note yet, and with several uses at the same moment.
NOTE_USE = """
INSERT INTO core_tokennote AS note (token_id, label, last_used_at) VALUES (%(token)s, '', %(now)s)
ON CONFLICT (token_id) DO UPDATE SET last_used_at = EXCLUDED.last_used_at
WHERE note.last_used_at IS NULL OR note.last_used_at < %(stale)s
"""


class PracticeBackend(ModelBackend):
    """Django's own password check; demo accounts may sign in to demo installations only."""

    def authenticate(
        self, request: Any, username: str | None = None, password: str | None = None, **kwargs: Any
    ) -> User | None:
        """Return the account of a user name and password; a hash that is out of date is renewed."""
        user = super().authenticate(request, username=username, password=password, **kwargs)
        if isinstance(user, User) and password is not None:
            password_rehash(user=user, password=password)
        return user if isinstance(user, User) else None

    def user_can_authenticate(self, user: Any) -> bool:
        return super().user_can_authenticate(user) and (settings.DEBUG_SIGN_IN or not user.is_demo)

    def get_user(self, user_id: Any) -> User | None:
        """Return the user of a session; one query also reads whether a second factor is set up."""
        user = with_second_factor(User.objects.filter(pk=user_id)).first()
        return user if user is not None and self.user_can_authenticate(user) else None


class PracticeTokenAuthentication(TokenAuthentication):
    """`Authorization: Token …`, for accounts that are allowed to sign in."""

    def validate_user(self, auth_token: Any) -> Any:
        user, token = super().validate_user(auth_token)  # type: ignore[no-untyped-call]  # knox has no types
        if user.is_demo and not settings.DEBUG_SIGN_IN:
            raise AuthenticationFailed("Demo accounts are refused here: DEBUG is off.")
        _note_use(token)
        return user, token


def _note_use(token: Any) -> None:
    """Record that a token was used, at most once an hour: a busy program must not cause a write per request."""
    now = timezone.now()
    with connection.cursor() as cursor:
        cursor.execute(NOTE_USE, {"token": token.pk, "now": now, "stale": now - NOTED_EVERY})


class PracticeTokenScheme(KnoxTokenScheme):  # type: ignore[no-untyped-call]  # drf-spectacular has no types there
    """How the API schema describes the tokens."""

    target_class = "core.accounts.authentication.PracticeTokenAuthentication"
    name = "token"
