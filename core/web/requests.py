"""What views and API calls read from a request."""

from __future__ import annotations

from typing import cast

from django.http import HttpRequest
from rest_framework.request import Request

from core.models import User


def actor_of(request: HttpRequest | Request) -> User:
    """Return the signed-in user; call it only behind the gate, which lets nobody anonymous through."""
    return cast(User, request.user)
