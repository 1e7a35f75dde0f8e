"""The one gate: who may do what.

Every app registers its actions (`<app>/permissions.py`), every page and API address names one of them, and
`allowed` decides. Nothing else in the project looks at roles.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from enum import Enum
from typing import Any, TypeVar

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import models

from core.gate import row_scope

PUBLIC = "public"
SIGNED_IN = "signed-in"


class Role(models.TextChoices):
    """What a member of the practice does; a person may hold several."""

    TECHNICIAN = "technician", "lab technician"
    REVIEWER = "reviewer", "lab reviewer"
    FITTER = "fitter", "fitter"
    MANAGER = "manager", "store manager"
    OFFICE = "office", "head office"


STORE_ROLES = frozenset({Role.FITTER, Role.MANAGER})

# Whom REQUIRE_SECOND_FACTOR binds.
SECOND_FACTOR_ROLES = frozenset({Role.OFFICE, Role.REVIEWER})


class Duty(Enum):
    """What somebody who signed in by password still owes before any work."""

    SECOND_STEP = "give the code of the second factor"
    NEW_PASSWORD = "choose a password of their own"  # noqa: S105  words, no password
    SECOND_FACTOR = "set up a second factor"


_actions: dict[str, frozenset[Role]] = {}


def register(actions: Mapping[str, Iterable[Role]]) -> None:
    """Add an app's actions (`app.noun:verb`) with the roles that hold them."""
    for name, roles in actions.items():
        held = frozenset(roles)
        if _actions.get(name, held) != held:
            raise ImproperlyConfigured(f"The action {name!r} is registered twice with different roles.")
        _actions[name] = held


def registered() -> dict[str, frozenset[Role]]:
    return dict(_actions)


def check_known(action: str) -> None:
    if action not in (PUBLIC, SIGNED_IN) and action not in _actions:
        raise ImproperlyConfigured(f"Unknown action {action!r}: register it in the app's permissions.py.")


def duty(user: Any) -> Duty | None:
    """Say what a person still owes before any work; users of tokens owe nothing, they signed in by no password.

    `is_verified` is set on the users of sessions alone, by the middleware that knows whether the second step was done.
    """
    if not hasattr(user, "is_verified") or not user.is_authenticated:
        return None
    if user.has_second_factor() and not user.is_verified():
        return Duty.SECOND_STEP
    if user.must_change_password:
        return Duty.NEW_PASSWORD
    if settings.REQUIRE_SECOND_FACTOR and not user.has_second_factor() and user.roles() & SECOND_FACTOR_ROLES:
        return Duty.SECOND_FACTOR
    return None


def allowed(user: Any, action: str, store: Any = None) -> bool:
    """Say whether the user may do this, in this store where the action belongs to one.

    Parameters
    ----------
    user : a `core.User` or an anonymous user
    action : a registered action, `PUBLIC` or `SIGNED_IN`; the latter is open while a new password is owed, no other is
    store : a `core.Store`, or None to ask "in any store"
    """
    check_known(action)
    if action == PUBLIC:
        return True
    if not user.is_authenticated or not user.is_active:
        return False
    owed = duty(user)
    if owed is Duty.SECOND_STEP:
        return False
    if action == SIGNED_IN:
        return True
    if owed is not None:
        return False
    roles = _actions[action]
    for membership in user.memberships_held():
        if membership.role not in roles:
            continue
        if store is None or membership.store_id is None or membership.store_id == store.pk:
            return True
    return False


def enter_scope(user: Any, action: str) -> None:
    """Let the database show the rows of the user's own stores, now that the gate has let the user in."""
    if action not in (PUBLIC, SIGNED_IN):
        row_scope.enter(user.store_ids())


ViewT = TypeVar("ViewT", bound=Callable[..., Any])


def gate(action: str) -> Callable[[ViewT], ViewT]:
    """Declare who may use a view; the middleware enforces it."""
    check_known(action)

    def declare(view: ViewT) -> ViewT:
        view.permission = action  # type: ignore[attr-defined]
        return view

    return declare


def declared_action(view: Any, method: str | None) -> str | None:
    """Return the action that a view declares for a method, or None where it declares nothing."""
    holder = getattr(view, "cls", None) or getattr(view, "view_class", None)
    declared = getattr(view, "permission", None) or getattr(holder, "permission", None)
    if isinstance(declared, Mapping):
        # HEAD is answered by GET's handler; OPTIONS describes an address and needs what reading it needs.
        verb = "GET" if method in ("HEAD", "OPTIONS") else method
        chosen = declared.get(verb)
        return str(chosen) if chosen else None
    return declared if isinstance(declared, str) else None
