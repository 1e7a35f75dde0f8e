"""Signing in, by password and by token. Demo accounts are refused wherever DEBUG is off."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth.backends import ModelBackend
from knox.auth import TokenAuthentication
from rest_framework.exceptions import AuthenticationFailed


class PracticeBackend(ModelBackend):
    """Django's own check of a password, with the demo accounts kept to demo installations."""

    def user_can_authenticate(self, user: Any) -> bool:
        return super().user_can_authenticate(user) and (settings.DEBUG_SIGN_IN or not user.is_demo)


class PracticeTokenAuthentication(TokenAuthentication):
    """`Authorization: Token …`, for accounts that could sign in."""

    def validate_user(self, auth_token: Any) -> Any:
        user, token = super().validate_user(auth_token)  # type: ignore[no-untyped-call]  # knox has no types
        if user.is_demo and not settings.DEBUG_SIGN_IN:
            raise AuthenticationFailed("Demo accounts are refused here: DEBUG is off.")
        return user, token
