"""The one gate: who may do what.

Every app registers its actions with the roles that may perform them (`<app>/permissions.py`), every page and API
address names one of them, and `allowed` decides. Everything else that depends on a role is a table beside `Role` below.
Only the code that gives and withdraws roles compares them itself: `core.accounts`, `core.models` and `make_account`
(`tests/core/gate/test_roles_in_one_place.py`).
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
    """The role of a member of staff; a person may have several."""

    TECHNICIAN = "technician", "lab technician"
    REVIEWER = "reviewer", "lab reviewer"
    FITTER = "fitter", "fitter"
    MANAGER = "manager", "store manager"
    OFFICE = "office", "head office"


STORE_ROLES = frozenset({Role.FITTER, Role.MANAGER})

# Head office grants roles; with one of these it would approve its own tests or read people whom it may only count.
APART_FROM_OFFICE = frozenset({Role.REVIEWER, Role.FITTER, Role.MANAGER})

# The roles that REQUIRE_SECOND_FACTOR applies to.
SECOND_FACTOR_ROLES = frozenset({Role.OFFICE, Role.REVIEWER})

# A practice can work once somebody has each of these; head office exists from the beginning.
NEEDED_ROLES = (Role.TECHNICIAN, Role.REVIEWER, Role.MANAGER, Role.FITTER)

# The role that store managers give and withdraw in their stores; head office gives the others.
ROLE_GIVEN_BY_MANAGERS = Role.FITTER

# The start page of a signed-in user, by the first role in this list that they have.
HOMES: tuple[tuple[Role, str], ...] = (
    (Role.FITTER, "fittings:home"),
    (Role.MANAGER, "fittings:home"),
    (Role.TECHNICIAN, "labtests:home"),
    (Role.REVIEWER, "labtests:home"),
    (Role.OFFICE, "outcomes:home"),
)


class RequiredStep(Enum):
    """A step that a signed-in user must complete before anything else."""

    SECOND_STEP = "enter the code of your second factor"
    NEW_PASSWORD = "choose a new password"  # noqa: S105  a sentence, not a password
    SECOND_FACTOR = "set up a second factor"


_actions: dict[str, frozenset[Role]] = {}


def register(actions: Mapping[str, Iterable[Role]]) -> None:
    """Add an app's actions (`app.noun:verb`) with the roles that may perform them."""
    for name, roles in actions.items():
        granted = frozenset(roles)
        if _actions.get(name, granted) != granted:
            raise ImproperlyConfigured(f"The action {name!r} is registered twice with different roles.")
        _actions[name] = granted


def registered() -> dict[str, frozenset[Role]]:
    return dict(_actions)


def check_known(action: str) -> None:
    if action not in (PUBLIC, SIGNED_IN) and action not in _actions:
        raise ImproperlyConfigured(f"Unknown action {action!r}: register it in the app’s permissions.py.")


def required_step(user: Any) -> RequiredStep | None:
    """Return the step a user must complete before anything else.

    Only the users of sessions have `is_verified`: django-otp's middleware sets it from the second step of sign-in. A
    token is used without that step, but not past a password or a second factor that its owner still has to set up.
    """
    if not user.is_authenticated:
        return None
    if hasattr(user, "is_verified") and user.has_second_factor() and not user.is_verified():
        return RequiredStep.SECOND_STEP
    if user.must_change_password:
        return RequiredStep.NEW_PASSWORD
    if settings.REQUIRE_SECOND_FACTOR and user.roles() & SECOND_FACTOR_ROLES and not user.has_second_factor():
        return RequiredStep.SECOND_FACTOR
    return None


def allowed(user: Any, action: str, store: Any = None) -> bool:
    """Return whether the user may perform an action, in this store if the action belongs to one.

    Parameters
    ----------
    user : a `core.User` or an anonymous user
    action : a registered action, `PUBLIC` or `SIGNED_IN`; while a step is required only `SIGNED_IN` is allowed, and not
        even that before the second step of sign-in
    store : a `core.Store`, or None for "in any store"
    """
    check_known(action)
    if action == PUBLIC:
        return True
    if not user.is_authenticated or not user.is_active:
        return False
    step = required_step(user)
    if step is RequiredStep.SECOND_STEP:
        return False
    if action == SIGNED_IN:
        return True
    if step is not None:
        return False
    roles = _actions[action]
    for membership in user.memberships_held():
        if membership.role not in roles:
            continue
        if store is None or membership.store_id is None or membership.store_id == store.pk:
            return True
    return False


def store_ids_where(user: Any, action: str) -> list[int]:
    """Return the stores in which a role of the user has an action, for reads behind the gate."""
    check_known(action)
    memberships = user.memberships_held()
    return [row.store_id for row in memberships if row.store_id is not None and row.role in _actions[action]]


def enter_scope(user: Any, action: str) -> None:
    """Make the rows of the user's stores visible in the database, after the gate has allowed the action."""
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
    """Return the action that a view declares for a method, or None."""
    holder = getattr(view, "cls", None) or getattr(view, "view_class", None)
    declared = getattr(view, "permission", None) or getattr(holder, "permission", None)
    if isinstance(declared, Mapping):
        # HEAD uses the handler of GET; OPTIONS describes an address and needs the same right as reading it.
        verb = "GET" if method in ("HEAD", "OPTIONS") else method
        chosen = declared.get(verb)
        return str(chosen) if chosen else None
    return declared if isinstance(declared, str) else None
