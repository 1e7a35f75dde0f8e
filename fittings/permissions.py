"""Who may do what with fittings. Head office sees outcomes and no people."""

from __future__ import annotations

from core import navigation
from core.permissions import Role, register

_STORE_STAFF = {Role.FITTER, Role.MANAGER}

register(
    {
        "fittings.fitting:read": _STORE_STAFF,
        "fittings.fitting:write": _STORE_STAFF,
        "fittings.customer:read": _STORE_STAFF,
        "fittings.customer:withdraw": _STORE_STAFF,
        "fittings.customer:export": {Role.MANAGER},
        "fittings.customer:erase": {Role.MANAGER},
        "fittings.follow_up:read": _STORE_STAFF,
        "fittings.follow_up:answer": _STORE_STAFF,
        "fittings.outcome:read": {Role.MANAGER, Role.OFFICE},
    }
)

navigation.register(
    "Store",
    [
        navigation.Place("Today", "fittings:home", "fittings.fitting:read"),
        navigation.Place("New fitting", "fittings:fitting-new", "fittings.fitting:write"),
        navigation.Place("Customers", "fittings:customer-list", "fittings.customer:read"),
        navigation.Place("Follow-ups", "fittings:follow-up-list", "fittings.follow_up:read"),
    ],
    order=20,
)
navigation.register("Learn", [navigation.Place("Outcomes", "outcomes:home", "fittings.outcome:read")], order=40)
