"""Fittings that visitors asked for."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from fittings.models import FittingRequest


def requests_open(user: Any, *, ended_too: bool = False) -> QuerySet[FittingRequest]:
    """Requests that wait for an answer of the user's stores, the nearest day first; `ended_too` adds the others."""
    requests = FittingRequest.objects.visible_to(user).select_related("store")
    return requests if ended_too else requests.waiting()
