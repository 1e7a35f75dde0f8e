"""Core's actions with the roles that have them, and its places in the navigation."""

from __future__ import annotations

from core.gate import navigation
from core.gate.access import SIGNED_IN, Role, register
from core.gate.two_people import TwoPersonRule, register_rules

register(
    {
        "core.account:manage": {Role.OFFICE},
        "core.security_log:read": {Role.OFFICE},
        "core.store:write": {Role.OFFICE},
        "core.staff:manage": {Role.MANAGER},
        "core.first_steps:view": {Role.OFFICE},
        "core.token:own": set(Role),
    }
)

register_rules(
    [
        TwoPersonRule(
            "core.account:confirm",
            "Give the role of head office or reviewer, reset the password of such an account, lift its second factor",
            "the head office account that asked for it; whom it concerns (where there are two other accounts)",
            "own_request",
        )
    ]
)

navigation.register(
    "Practice",
    [
        navigation.Place("Staff", "core:staff-list", "core.staff:manage"),
        navigation.Place("Accounts", "core:account-list", "core.account:manage"),
        navigation.Place("Security log", "core:security-log", "core.security_log:read"),
        navigation.Place("Stores", "core:store-list", "core.store:write"),
    ],
    order=60,
)
navigation.register("You", [navigation.Place("My account", "core:account", SIGNED_IN)], order=90)
