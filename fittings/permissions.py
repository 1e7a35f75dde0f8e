"""Who may do what with fittings. Head office sees outcomes and no people."""

from __future__ import annotations

from core.gate import navigation
from core.gate.access import Role, register
from core.gate.two_people import TwoPersonRule, register_rules

_STORE_STAFF = {Role.FITTER, Role.MANAGER}

register(
    {
        "fittings.fitting:read": _STORE_STAFF,
        "fittings.fitting:write": _STORE_STAFF,
        "fittings.customer:read": _STORE_STAFF,
        "fittings.customer:write": _STORE_STAFF,
        "fittings.customer:withdraw": _STORE_STAFF,
        "fittings.customer:export": {Role.MANAGER},
        "fittings.customer:erase": {Role.MANAGER},
        "fittings.follow_up:read": _STORE_STAFF,
        "fittings.follow_up:answer": _STORE_STAFF,
        "fittings.notice:read": _STORE_STAFF,
        "fittings.notice:inform": _STORE_STAFF,
        "fittings.request:close": _STORE_STAFF,
        "fittings.second_look:write": _STORE_STAFF,
        "fittings.training:write": _STORE_STAFF,
        "fittings.outcome:read": {*_STORE_STAFF, Role.OFFICE},
        "fittings.learning:read": {Role.TECHNICIAN, Role.REVIEWER, Role.OFFICE},
        "fittings.statistics:export": {Role.OFFICE},
        "fittings.letter:write": _STORE_STAFF,
        "fittings.concern:read": _STORE_STAFF,
        "fittings.concern:write": _STORE_STAFF,
        "fittings.referral_rules:read": {*_STORE_STAFF, Role.OFFICE},
        "fittings.referral_rules:write": {Role.OFFICE},
        # By somebody other than the author; a store's manager knows what the staff can carry out.
        "fittings.referral_rules:adopt": {Role.OFFICE, Role.MANAGER},
        "fittings.evidence:publish": {Role.OFFICE},
        "fittings.need_rules:read": {Role.OFFICE},
        "fittings.need_rules:write": {Role.OFFICE},
    }
)

register_rules(
    [
        TwoPersonRule(
            "fittings.referral_rules:adopt", "Take a version of the referral rules into use", "its author", "own_draft"
        ),
        TwoPersonRule(
            "fittings.need_rules:adopt",
            "Take a version of the need rules into use",
            "its author (where there is another head office account)",
            "own_draft",
        ),
        TwoPersonRule(
            "fittings.evidence:publish", "Publish the practice’s outcomes", "who proposed them", "own_proposal"
        ),
    ]
)

navigation.register(
    "Store",
    [
        navigation.Place("Today", "fittings:home", "fittings.fitting:read"),
        navigation.Place("New fitting", "fittings:fitting-new", "fittings.fitting:write"),
        navigation.Place("Customers", "fittings:customer-list", "fittings.customer:read"),
        navigation.Place("Follow-ups", "fittings:follow-up-list", "fittings.follow_up:read"),
        navigation.Place("Answers that need attention", "fittings:concern-list", "fittings.concern:read"),
        navigation.Place("Training", "fittings:training", "fittings.training:write"),
        navigation.Place("Notices", "fittings:notice-list", "fittings.notice:read"),
    ],
    order=20,
)
OUTCOME_PLACES = (
    navigation.Place("Recurrences", "outcomes:home", "fittings.outcome:read"),
    navigation.Place("Model", "outcomes:model", "fittings.outcome:read"),
    navigation.Place("Two fitters", "outcomes:agreement", "fittings.outcome:read"),
    navigation.Place("Demand and stock", "outcomes:demand", "fittings.outcome:read"),
    navigation.Place("Shoes in use", "outcomes:shoe-list", "fittings.learning:read"),
    navigation.Place("Need rules", "outcomes:rules-list", "fittings.need_rules:read"),
    navigation.Place("Referral rules", "outcomes:referral-list", "fittings.referral_rules:read"),
    navigation.Place("For statistics", "outcomes:statistics", "fittings.statistics:export"),
    navigation.Place("Public page", "outcomes:evidence", "fittings.evidence:publish"),
)
"""The pages of the outcomes among themselves."""

navigation.register(
    "Learn",
    [
        navigation.Place("Outcomes", "outcomes:home", "fittings.outcome:read"),
        navigation.Place("Shoes in use", "outcomes:shoe-list", "fittings.learning:read"),
        navigation.Place("Need rules", "outcomes:rules-list", "fittings.need_rules:read"),
        navigation.Place("Referral rules", "outcomes:referral-list", "fittings.referral_rules:read"),
    ],
    order=40,
)
