"""Who fits in which store."""

from __future__ import annotations

from collections.abc import Sequence

from core.gate.access import STORE_ROLES
from core.models import Store, User


def fitters_of(stores: Sequence[Store]) -> list[User]:
    """The people who fit in these stores, by name."""
    held = User.objects.filter(memberships__store__in=stores, memberships__role__in=STORE_ROLES).distinct()
    return list(held.order_by("last_name", "first_name", "username"))
