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

from core.accounts.provisioning import TOKEN_MOST_DAYS
from core.accounts.selectors import with_second_factor
from core.accounts.services import password_rehash
from core.gate.token_scopes import TokenScope
from core.models import User

NOTED_EVERY = dt.timedelta(hours=1)
# One statement, so that it works whether or not there is a note yet, and with several uses at the same moment.
NOTE_USE = """
WITH used AS (
    INSERT INTO core_tokennote (token_id, label, scope, last_used_at)
    SELECT %(token)s, '', %(full)s, %(now)s
    WHERE NOT EXISTS (SELECT FROM core_tokennote WHERE token_id = %(token)s AND last_used_at >= %(stale)s)
    ON CONFLICT (token_id) DO UPDATE SET last_used_at = EXCLUDED.last_used_at
)
SELECT scope FROM core_tokennote WHERE token_id = %(token)s
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

    def _cleanup_token(self, auth_token: Any) -> bool:
        """Return whether a token has expired. Knox would delete it here, behind the back of the audit trail."""
        return auth_token.expiry is not None and auth_token.expiry < timezone.now()

    def validate_user(self, auth_token: Any) -> Any:
        user, token = super().validate_user(auth_token)  # type: ignore[no-untyped-call]  # knox has no types
        if user.is_demo and not settings.DEBUG_SIGN_IN:
            raise AuthenticationFailed("Demo accounts are refused here: DEBUG is off.")
        if token.created < timezone.now() - dt.timedelta(days=TOKEN_MOST_DAYS):
            raise AuthenticationFailed("This token is more than a year old. Create a new one under My account.")
        token.scope = _note_use(token)
        return user, token


def _note_use(token: Any) -> str:
    """Record that a token was used, at most once an hour: a busy program must not cause a write per request.

    Returns
    -------
    str
        The token's scope; tokens from before there were notes have none of their own.
    """
    now = timezone.now()
    with connection.cursor() as cursor:
        values = {"token": token.pk, "full": TokenScope.FULL, "now": now, "stale": now - NOTED_EVERY}
        cursor.execute(NOTE_USE, values)
        row = cursor.fetchone()
    return str(row[0]) if row else TokenScope.FULL


class PracticeTokenScheme(KnoxTokenScheme):  # type: ignore[no-untyped-call]  # drf-spectacular has no types there
    """How the API schema describes the tokens."""

    target_class = "core.accounts.authentication.PracticeTokenAuthentication"
    name = "token"
