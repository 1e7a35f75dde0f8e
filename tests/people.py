"""People for tests, entered in the trail as the services would, but without their slow hashes of passwords."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Cast:
    """One person of each role. Store A has a fitter and a manager, store B a fitter who sees nothing of A."""

    store_a: Any
    store_b: Any
    fitter_a: Any
    manager_a: Any
    fitter_b: Any
    technician: Any
    reviewer: Any
    office: Any

    def members(self) -> dict[str, Any]:
        """Return everybody who can sign in, by name of the role."""
        return {
            name: getattr(self, name)
            for name in ("fitter_a", "manager_a", "fitter_b", "technician", "reviewer", "office")
        }


def person(username: str, role: str | None = None, store: Any = None) -> Any:
    """Make an account, and the role it holds where one is named."""
    return people([(username, role, store)])[0]


def people(wanted: Sequence[tuple[str, str | None, Any]], *, stores: Iterable[Any] = ()) -> list[Any]:
    """Make accounts with the roles they hold, all with one entry each in the trail; also the entries of new stores."""
    from core.audit import Change, record_many
    from core.models import Membership, User

    users = User.objects.bulk_create(User(username=username) for username, _, _ in wanted)
    members = Membership.objects.bulk_create(
        Membership(user=user, role=role, store=store)
        for user, (_, role, store) in zip(users, wanted, strict=True)
        if role is not None
    )
    changes = [Change("core.store.created", store) for store in stores]
    changes += [Change("core.user.created", user) for user in users]
    record_many([*changes, *(Change("core.membership.granted", member) for member in members)], actor=None)
    return users


def make_cast() -> Cast:
    """Make the two stores and everybody in them."""
    from core.gate.access import Role
    from core.models import Store

    store_a, store_b = Store.objects.bulk_create(
        [Store(slug="store-a", name="Store A"), Store(slug="store-b", name="Store B")]
    )
    roles = {
        "fitter_a": (Role.FITTER, store_a),
        "manager_a": (Role.MANAGER, store_a),
        "fitter_b": (Role.FITTER, store_b),
        "technician": (Role.TECHNICIAN, None),
        "reviewer": (Role.REVIEWER, None),
        "office": (Role.OFFICE, None),
    }
    wanted = [(name.replace("_", "-"), role, store) for name, (role, store) in roles.items()]
    made = dict(zip(roles, people(wanted, stores=[store_a, store_b]), strict=True))
    return Cast(store_a=store_a, store_b=store_b, **made)
