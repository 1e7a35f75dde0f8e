"""Creating stores, accounts, roles and tokens, without the rules for people that `core.accounts.services` adds."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from knox.models import AuthToken

from core import audit
from core.database.validation import from_validation_error
from core.domain.errors import DomainError
from core.gate.permissions import Role
from core.models import TRAINING_MARK, Membership, Store, TokenNote, User

TOKEN_MOST_DAYS = 365


def store_name(store: Store, name: str) -> str:
    """Return the name as it is stored: that of a training store says so."""
    plain = name.removesuffix(TRAINING_MARK).rstrip()
    return plain + TRAINING_MARK if store.is_training else name


@transaction.atomic
def store_create(*, actor: User | None, slug: str, name: str, **details: Any) -> Store:
    """Create a store. Whether it is for training is said here and can't change: real people always count."""
    store = Store(slug=slug, name=name, **details)
    store.name = store_name(store, name)
    store.full_clean()
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
    is_demo: bool = False,
    must_change_password: bool = False,
) -> User:
    """Create an account; without a password nobody can sign in to it before one is set."""
    user = User(
        username=username,
        first_name=first_name,
        last_name=last_name,
        is_demo=is_demo,
        must_change_password=must_change_password,
    )
    user.set_password(password)
    user.full_clean()
    user.save()
    audit.record(actor=actor, action="core.user.created", subject=user)
    return user


@transaction.atomic
def membership_grant(
    *, actor: User | None, user: User, role: Role, store: Store | None = None, reason: str = ""
) -> Membership:
    membership = Membership(user=user, role=role, store=store)
    membership.full_clean()
    membership.save()
    audit.record(actor=actor, action="core.membership.granted", subject=membership, store=store, reason=reason)
    return membership


@transaction.atomic
def token_issue(*, actor: User | None, username: str, label: str = "") -> str:
    """Create an API token for a year and return it. Only its hash is stored, so it cannot be read again."""
    user = User.objects.filter(username=username, is_active=True).first()
    if user is None:
        raise DomainError(
            f"No active account has the user name {username!r}. User names are case-sensitive.",
            code="no_such_user",
            status=404,
        )
    expiry = dt.timedelta(days=TOKEN_MOST_DAYS)
    row, token = AuthToken.objects.create(user, expiry=expiry)  # type: ignore[no-untyped-call]  # knox has no types
    label = token_label(row, label)
    audit.record(actor=actor, action="core.token.issued", subject=user, reason=label)
    return str(token)


def token_label(row: AuthToken, label: str) -> str:
    """Store the label of a new token."""
    note = TokenNote(token=row, label=label.strip())
    try:
        note.clean_fields(exclude={"token", "last_used_at"})
    except ValidationError as problem:
        raise from_validation_error(problem) from problem
    note.save(force_insert=True)
    return note.label
