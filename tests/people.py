"""People for tests, entered in the trail as the services would, but without their slow hashes of passwords."""

from __future__ import annotations

from typing import Any


def person(username: str, role: str | None = None, store: Any = None) -> Any:
    """Make an account, and the role it holds where one is named."""
    from core.audit import Change, record_many
    from core.models import Membership, User

    user = User.objects.create(username=username)
    changes = [Change("core.user.created", user)]
    if role is not None:
        member = Membership.objects.create(user=user, role=role, store=store)
        changes.append(Change("core.membership.granted", member))
    record_many(changes, actor=None)
    return user
