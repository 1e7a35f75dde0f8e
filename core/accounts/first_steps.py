"""The first steps that core itself can check: a store, and people for every task."""

from __future__ import annotations

from django.db.models import Exists, Q

from core.gate.access import NEEDED_ROLES
from core.models import Membership, Store
from core.web.first_steps import Step, register


def store_exists() -> Exists:
    return Exists(Store.objects.real())


def staff_is_complete() -> Q:
    active = Membership.objects.filter(user__is_active=True).exclude(store__is_training=True)
    return Q(*(Exists(active.filter(role=role)) for role in NEEDED_ROLES))


register(
    Step(
        10,
        "Store",
        "Its name, address and opening hours, as visitors will read them.",
        "core:store-new",
        "core.store:write",
        store_exists,
    ),
    Step(
        20,
        "Staff",
        "A lab technician, a lab reviewer, a store manager and a fitter. One person may have several roles, but nobody "
        "approves their own test. Each chooses a password by a single-use link.",
        "core:account-new",
        "core.account:manage",
        staff_is_complete,
    ),
)
