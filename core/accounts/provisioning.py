"""Creating stores, accounts, roles and tokens, without the rules for people that `core.accounts.services` adds."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from knox.models import AuthToken

from core import audit
from core.accounts.security_log import note, note_role
from core.database.validation import from_validation_error, validate
from core.domain.errors import DomainError
from core.gate.access import Role
from core.gate.token_scopes import TokenScope
from core.models import TRAINING_MARK, Membership, SecurityKind, Store, TokenNote, User

TOKEN_MOST_DAYS = 365
TOKEN_START_CHARACTERS = 8


def store_name(store: Store, name: str) -> str:
    """Return the name as it is stored: that of a training store says so."""
    plain = name.removesuffix(TRAINING_MARK).rstrip()
    return plain + TRAINING_MARK if store.is_training else name


@transaction.atomic
def store_create(*, actor: User | None, slug: str, name: str, **details: Any) -> Store:
    """Create a store. Whether it is for training is said here and can't change: real people always count."""
    store = Store(slug=slug, name=name, **details)
    store.name = store_name(store, name)
    validate(store)
    store.save()
    audit.record(actor=actor, action="core.store.created", subject=store, store=store)
    return store


@transaction.atomic
def user_create(
    *,
    actor: User | None,
    username: str,
    password: str | None,
    first_name: str = "",
    last_name: str = "",
    email: str = "",
    is_demo: bool = False,
    must_change_password: bool = False,
) -> User:
    """Create an account; without a password nobody can sign in to it before one is set."""
    user = User(
        username=username,
        first_name=first_name,
        last_name=last_name,
        email=email,
        is_demo=is_demo,
        must_change_password=must_change_password,
    )
    user.set_password(password)
    validate(user)
    user.save()
    audit.record(actor=actor, action="core.user.created", subject=user)
    note(SecurityKind.CREATED, user=user, actor=actor)
    return user


@transaction.atomic
def membership_grant(
    *, actor: User | None, user: User, role: Role, store: Store | None = None, reason: str = ""
) -> Membership:
    membership = Membership(user=user, role=role, store=store)
    validate(membership)
    membership.save()
    audit.record(actor=actor, action="core.membership.granted", subject=membership, store=store, reason=reason)
    note_role(SecurityKind.ROLE_GIVEN, membership, actor=actor)
    return membership


@transaction.atomic
def token_issue(*, actor: User | None, username: str, label: str = "", scope: TokenScope = TokenScope.FULL) -> str:
    """Create an API token for a year and return it. Only its hash is stored, so it cannot be read again."""
    user = User.objects.filter(username=username, is_active=True).first()
    if user is None:
        raise DomainError(
            f"No active account has the user name {username!r}. User names are case-sensitive.",
            code="no_such_user",
            status=404,
        )
    return token_create(actor=actor, user=user, days=TOKEN_MOST_DAYS, label=label, scope=scope)


@transaction.atomic
def token_create(*, actor: User | None, user: User, days: int, label: str, scope: TokenScope) -> str:
    """Create an API token of an account, for a year at most, and return it.

    Parameters
    ----------
    days : how long it is valid; more than a year is a year
    label : what it is for
    scope : what it may be used for, within the roles of the account
    """
    days = min(days, TOKEN_MOST_DAYS)
    expiry = dt.timedelta(days=days)
    # With this entry in the trail, because it covers the tokens that an account has; nobody can use them any more.
    AuthToken.objects.filter(user=user, expiry__lt=timezone.now()).delete()
    row, token = AuthToken.objects.create(user, expiry=expiry)  # type: ignore[no-untyped-call]  # knox has no types
    facts = [f"{token_start(row)}…", f"valid for {days} days", scope.label]
    reason = ", ".join(filter(None, [*facts, _token_note(row, label, scope)]))
    audit.record(actor=actor, action="core.token.issued", subject=user, reason=reason)
    note(SecurityKind.TOKEN_ISSUED, user=user, actor=actor, details=", ".join(facts))
    return str(token)


def token_start(row: Any) -> str:
    """Return the first characters of a token, by which its owner can recognise it."""
    return str(row.token_key)[:TOKEN_START_CHARACTERS]


def _token_note(row: AuthToken, label: str, scope: TokenScope) -> str:
    """Store label and scope of a new token, and return the label."""
    details = TokenNote(token=row, label=label.strip(), scope=scope)
    try:
        details.clean_fields(exclude={"token", "last_used_at"})
    except ValidationError as problem:
        raise from_validation_error(problem) from problem
    details.save(force_insert=True)
    return details.label
