"""Writes of accounts: who may sign in, with which roles and tokens, and what ends at once when they may not."""

from __future__ import annotations

import datetime as dt
import re
import secrets
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from knox.models import AuthToken

from core import audit
from core.accounts.lockout import forget_failures
from core.accounts.provisioning import membership_grant, token_label, user_create
from core.domain.errors import DomainError
from core.gate.permissions import Role
from core.models import Membership, Store, User

# Without what is read wrongly from a slip of paper: i l o, 0 1.
ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
PASSWORD_GROUPS, GROUP_CHARACTERS = 4, 4
TOKEN_START_CHARACTERS = 8
_DIGEST = re.compile(r"[0-9a-f]{1,128}")


@dataclass(frozen=True, slots=True)
class NewAccount:
    """An account just made and the password to hand over; the password is kept nowhere else."""

    user: User
    password: str


def locked(user: User) -> User:
    """Read an account anew and hold it to the end of the transaction."""
    return User.objects.select_for_update().get(pk=user.pk)


def require_reason(reason: str) -> None:
    if not reason.strip():
        raise DomainError("Say why: the trail keeps it.", code="no_reason", fields={"reason": ["Say why."]})


def end_sessions(user: User) -> None:
    """Make every session of the account invalid; the caller keeps its own by `update_session_auth_hash`."""
    user.session_epoch += 1
    user.save(update_fields=["session_epoch"])


def temporary_password() -> str:
    groups = ("".join(secrets.choice(ALPHABET) for _ in range(GROUP_CHARACTERS)) for _ in range(PASSWORD_GROUPS))
    return "-".join(groups)


@transaction.atomic
def account_create(*, actor: User | None, username: str, first_name: str = "", last_name: str = "") -> NewAccount:
    """Make an account with a temporary password that must be changed at the first sign-in."""
    if User.objects.filter(username__iexact=username).exists():
        message = f"There is an account {username!r} already; capital letters make no other name."
        raise DomainError(message, code="name_taken", status=409, fields={"username": [message]})
    password = temporary_password()
    user = user_create(
        actor=actor,
        username=username,
        password=password,
        first_name=first_name,
        last_name=last_name,
        must_change_password=True,
    )
    return NewAccount(user, password)


@transaction.atomic
def account_rename(*, actor: User, user: User, first_name: str, last_name: str) -> User:
    """Change the name that others see; the user name stays, for the trail's sake."""
    held = locked(user)
    before = audit.snapshot(held)
    held.first_name, held.last_name = first_name, last_name
    held.full_clean()
    held.save()
    audit.record(actor=actor, action="core.user.renamed", subject=held, before=before)
    return held


@transaction.atomic
def password_change(*, actor: User, password: str) -> User:
    """Set one's own password. Every session ends; the page keeps its own."""
    user = locked(actor)
    before = audit.snapshot(user)
    if user.check_password(password):
        _refuse_password(["That is the password you have. Choose another."])
    try:
        validate_password(password, user)
    except ValidationError as problem:
        _refuse_password(problem.messages)
    user.set_password(password)
    user.must_change_password = False
    user.save()
    end_sessions(user)
    audit.record(actor=actor, action="core.password.changed", subject=user, before=before)
    return user


def _refuse_password(messages: list[str]) -> None:
    raise DomainError(" ".join(messages), code="password_rules", fields={"new_password": messages})


@transaction.atomic
def password_reset(*, actor: User | None, user: User, reason: str) -> NewAccount:
    """Give an account a new temporary password, end its sessions and lift its lockouts."""
    require_reason(reason)
    held = locked(user)
    before = audit.snapshot(held)
    password = temporary_password()
    held.set_password(password)
    held.must_change_password = True
    held.save()
    end_sessions(held)
    forget_failures(held)
    audit.record(actor=actor, action="core.password.reset", subject=held, before=before, reason=reason)
    return NewAccount(held, password)


@transaction.atomic
def sessions_end(*, actor: User, user: User) -> User:
    held = locked(user)
    before = audit.snapshot(held)
    end_sessions(held)
    audit.record(actor=actor, action="core.user.signed_out", subject=held, before=before)
    return held


@transaction.atomic
def account_switch_off(*, actor: User, user: User, reason: str) -> User:
    """Let an account sign in no more; its sessions and tokens end at once. Roles stay, for when it comes back."""
    require_reason(reason)
    if actor.pk == user.pk:
        raise DomainError("Nobody switches off their own account. Ask another of head office.", code="own_account")
    _keep_one_office(besides=user)
    held = locked(user)
    if not held.is_active:
        raise DomainError("This account is switched off already.", code="is_off", status=409)
    before = audit.snapshot(held)
    held.is_active = False
    held.save()
    end_sessions(held)
    AuthToken.objects.filter(user=held).delete()
    audit.record(actor=actor, action="core.user.switched_off", subject=held, before=before, reason=reason)
    return held


@transaction.atomic
def account_switch_on(*, actor: User, user: User, reason: str) -> User:
    require_reason(reason)
    held = locked(user)
    if held.is_active:
        raise DomainError("This account is switched on already.", code="is_on", status=409)
    before = audit.snapshot(held)
    held.is_active = True
    held.save()
    audit.record(actor=actor, action="core.user.switched_on", subject=held, before=before, reason=reason)
    return held


@transaction.atomic
def role_grant(*, actor: User | None, user: User, role: Role, store: Store | None, reason: str) -> Membership:
    """Give a role, with a reason; `membership_grant` with the rules for people."""
    require_reason(reason)
    held = locked(user)
    if not held.is_active:
        raise DomainError("This account is switched off. Switch it on first.", code="is_off", status=409)
    return membership_grant(actor=actor, user=held, role=role, store=store, reason=reason)


@transaction.atomic
def account_open(
    *,
    actor: User | None,
    username: str,
    first_name: str = "",
    last_name: str = "",
    role: Role,
    store: Store | None,
    reason: str,
) -> NewAccount:
    """Make an account together with its first role."""
    account = account_create(actor=actor, username=username, first_name=first_name, last_name=last_name)
    role_grant(actor=actor, user=account.user, role=role, store=store, reason=reason)
    return account


@transaction.atomic
def membership_withdraw(*, actor: User, membership: Membership, reason: str) -> None:
    """Take a role away, at once."""
    require_reason(reason)
    if membership.role == Role.OFFICE:
        if actor.pk == membership.user_id:
            raise DomainError("Nobody takes head office from themselves. Ask another of head office.", code="own_role")
        _keep_one_office(besides=membership.user)
    held = Membership.objects.select_for_update(of=("self",)).select_related("user", "store").filter(pk=membership.pk)
    gone = held.first()
    if gone is None:
        raise DomainError("This role was withdrawn already.", code="is_withdrawn", status=409)
    before, pk = audit.snapshot(gone), gone.pk
    gone.delete()
    gone.pk = pk
    audit.record(
        actor=actor,
        action="core.membership.withdrawn",
        subject=gone,
        before=before,
        reason=reason,
        store=gone.store,
    )


def _keep_one_office(*, besides: User) -> None:
    """Refuse what would leave nobody in head office; two who do it to each other at once wait here."""
    held = Membership.objects.select_for_update(of=("self",)).filter(role=Role.OFFICE).order_by("pk")
    offices = [row for row in held.select_related("user") if row.user.is_active]
    if offices and all(row.user_id == besides.pk for row in offices):
        raise DomainError("Somebody has to be head office: this is the last account that is.", code="last_office")


@transaction.atomic
def token_make(*, actor: User, days: int | None, label: str = "") -> str:
    """Make an API token for oneself. Only its hash is kept, so the answer is the one chance to read it."""
    user = locked(actor)
    expiry = dt.timedelta(days=days) if days else None
    row, token = AuthToken.objects.create(user, expiry=expiry)  # type: ignore[no-untyped-call]  # knox has no types
    ends = f"for {days} days" if days else "without an end"
    named = f", {told}" if (told := token_label(row, label)) else ""
    audit.record(actor=actor, action="core.token.issued", subject=user, reason=f"{token_start(row)}…, {ends}{named}")
    return str(token)


@transaction.atomic
def token_revoke(*, actor: User, user: User, digest: str, reason: str = "") -> None:
    """End a token of one's own, or with a reason one of another."""
    if actor.pk != user.pk:
        require_reason(reason)
    held = locked(user)
    known = digest if _DIGEST.fullmatch(digest) else ""
    row: Any = AuthToken.objects.filter(user=held, digest=known).first()
    if row is None:
        raise DomainError("There is no such token; it was revoked or has ended.", code="no_such_token", status=404)
    row.delete()
    told = f"{token_start(row)}…: {reason}" if reason else f"{token_start(row)}…"
    audit.record(actor=actor, action="core.token.revoked", subject=held, reason=told)


def token_start(row: Any) -> str:
    """Return the first characters of a token, by which its owner knows it again."""
    return str(row.token_key)[:TOKEN_START_CHARACTERS]


@transaction.atomic
def store_change(*, actor: User, store: Store, **details: str) -> Store:
    """Change name, address, phone or hours of a store; its address on the web stays."""
    held = Store.objects.select_for_update().get(pk=store.pk)
    before = audit.snapshot(held)
    for name, value in details.items():
        setattr(held, name, value)
    held.full_clean()
    held.save()
    audit.record(actor=actor, action="core.store.changed", subject=held, before=before, store=held)
    return held
