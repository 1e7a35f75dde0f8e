"""Fittings that visitors asked for."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from fittings.models import FittingRequest


def requests_open(user: Any) -> QuerySet[FittingRequest]:
    """Requests that wait for an answer of the user's stores, the nearest day first."""
    return FittingRequest.objects.visible_to(user).waiting().select_related("store")
