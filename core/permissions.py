"""The one gate: who may do what.

Every app registers its actions (`<app>/permissions.py`), every page and API address names one of them, and
`allowed` decides. Nothing else in the project looks at roles.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypeVar

from django.core.exceptions import ImproperlyConfigured
from django.db import models

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


def allowed(user: Any, action: str, store: Any = None) -> bool:
    """Say whether the user may do this, in this store where the action belongs to one.

    Parameters
    ----------
    user : a `core.User` or an anonymous user
    action : a registered action, `PUBLIC` or `SIGNED_IN`
    store : a `core.Store`, or None to ask "in any store"
    """
    check_known(action)
    if action == PUBLIC:
        return True
    if not user.is_authenticated or not user.is_active:
        return False
    if action == SIGNED_IN:
        return True
    roles = _actions[action]
    for membership in user.memberships_held():
        if membership.role not in roles:
            continue
        if store is None or membership.store_id is None or membership.store_id == store.pk:
            return True
    return False


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
