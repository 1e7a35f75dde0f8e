"""Reads of core."""

from __future__ import annotations

from core.models import Store, User
from core.permissions import Role


def stores_of(user: User) -> list[Store]:
    """Return the stores whose people and stock a user may see: their own, or all for head office."""
    if Role.OFFICE in user.roles():
        return list(Store.objects.all())
    return list(Store.objects.filter(pk__in=user.store_ids()))
