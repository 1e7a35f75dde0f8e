"""Helpers for views and API calls to read from a request."""

from __future__ import annotations

from typing import cast

from django.http import HttpRequest
from rest_framework.request import Request

from core.models import User


def actor_of(request: HttpRequest | Request) -> User:
    """Return the signed-in user. Call it only behind the gate, which refuses anonymous users."""
    return cast(User, request.user)
