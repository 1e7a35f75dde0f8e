"""Changes to accounts: passwords, roles, tokens, and ending access at once when it is withdrawn."""

from __future__ import annotations

import re
import secrets
from dataclasses import dataclass
from typing import Any, NoReturn

from django.contrib.auth.hashers import get_hasher, identify_hasher
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from knox.models import AuthToken

from core import audit
from core.accounts.lockout import clear_failures
from core.accounts.provisioning import membership_grant, store_name, token_create, token_start, user_create
from core.accounts.security_log import note, note_role
from core.accounts.two_accounts import act_ask, need_two, takes_two
from core.database.validation import validate
from core.domain.errors import DomainError, required_reason
from core.domain.quoting import quoted
from core.gate.access import Role
from core.gate.token_scopes import TokenScope
from core.models import AccountAct, Membership, SecurityKind, Store, User

# Without the characters that are easily misread on paper: i l o, 0 1.
ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
PASSWORD_GROUPS, GROUP_CHARACTERS = 4, 4
_DIGEST = re.compile(r"[0-9a-f]{1,128}")


@dataclass(frozen=True, slots=True)
class NewAccount:
    """A new account and the temporary password to hand over; the password is stored nowhere else."""

    user: User
    password: str


def locked(user: User) -> User:
    """Read an account again and lock its row until the end of the transaction."""
    return User.objects.select_for_update().get(pk=user.pk)


def check_reason(reason: str) -> None:
    required_reason(reason, asked="Give a reason. It is recorded in the audit trail.", code="no_reason")


def end_sessions(user: User) -> None:
    """Invalidate every session of the account; `update_session_auth_hash` keeps the caller's own session valid."""
    user.session_epoch += 1
    user.save(update_fields=["session_epoch"])


def temporary_password() -> str:
    groups = ("".join(secrets.choice(ALPHABET) for _ in range(GROUP_CHARACTERS)) for _ in range(PASSWORD_GROUPS))
    return "-".join(groups)


def refuse_taken_name(username: str) -> None:
    if User.objects.filter(username__iexact=username).exists():
        message = f"The user name {quoted(username)} is already taken (upper and lower case are treated as the same)."
        raise DomainError(message, code="name_taken", status=409, fields={"username": [message]})


@transaction.atomic
def account_create(
    *, actor: User | None, username: str, first_name: str = "", last_name: str = "", email: str = ""
) -> NewAccount:
    """Create an account with a temporary password that must be changed at the first sign-in."""
    refuse_taken_name(username)
    password = temporary_password()
    user = user_create(
        actor=actor,
        username=username,
        password=password,
        first_name=first_name,
        last_name=last_name,
        email=email,
        must_change_password=True,
    )
    return NewAccount(user, password)


@transaction.atomic
def account_rename(*, actor: User, user: User, first_name: str, last_name: str, email: str | None = None) -> User:
    """Change the displayed name. The user name cannot change, because the audit trail refers to it.

    Parameters
    ----------
    email : where the owner is informed of changes; None leaves it as it is
    """
    account = locked(user)
    before = audit.snapshot(account)
    account.first_name, account.last_name = first_name, last_name
    validate(account)
    account.save()
    audit.record(actor=actor, action="core.user.renamed", subject=account, before=before)
    return account if email is None else email_change(actor=actor, user=account, email=email)


@transaction.atomic
def email_change(*, actor: User, user: User, email: str) -> User:
    """Change where the owner of an account is informed of changes to it. The earlier address is informed of this."""
    account = locked(user)
    earlier = account.email
    if email == earlier:
        return account
    before = audit.snapshot(account)
    account.email = email
    validate(account)
    account.save(update_fields=["email"])
    audit.record(actor=actor, action="core.user.email_changed", subject=account, before=before)
    note(SecurityKind.EMAIL_CHANGED, user=account, actor=actor, also_to=earlier)
    return account


@transaction.atomic
def password_change(*, actor: User, password: str, revoke_tokens: bool = False) -> User:
    """Set the user's own password. Every session ends; the page keeps its own session valid.

    Parameters
    ----------
    revoke_tokens : revoke the account's API tokens too, which would otherwise go on working
    """
    user = locked(actor)
    before = audit.snapshot(user)
    if user.check_password(password):
        refuse_password(["This is your current password. Choose a different one."])
    try:
        validate_password(password, user)
    except ValidationError as problem:
        refuse_password(problem.messages)
    user.set_password(password)
    user.must_change_password = False
    user.save()
    end_sessions(user)
    audit.record(actor=actor, action="core.password.changed", subject=user, before=before)
    note(SecurityKind.PASSWORD_CHANGED, user=user, actor=actor)
    if revoke_tokens:
        _revoke_all_tokens(user)
    return user


def _revoke_all_tokens(user: User) -> None:
    """Revoke the tokens of the user's own account, with one entry each in the trail."""
    for row in list(AuthToken.objects.filter(user=user)):
        token_revoke(actor=user, user=user, digest=row.digest)


@transaction.atomic
def password_rehash(*, user: User, password: str) -> None:
    """Hash the password that an account has by the present method, where its hash is by an older or weaker one."""
    current = get_hasher()
    stored = identify_hasher(user.password)
    if stored.algorithm == current.algorithm and not stored.must_update(user.password):
        return
    account = locked(user)
    account.set_password(password)
    account.save(update_fields=["password"])
    user.password = account.password
    audit.record(actor=account, action="core.password.rehashed", subject=account, before=audit.snapshot(account))


def refuse_password(messages: list[str]) -> NoReturn:
    raise DomainError(" ".join(messages), code="password_rules", fields={"new_password": messages})


@transaction.atomic
def password_reset(*, actor: User | None, user: User, reason: str, asked_by: User | None = None) -> NewAccount:
    """Give an account a new temporary password, end its sessions and tokens, and unlock it."""
    check_reason(reason)
    account = locked(user)
    need_two(actor, account, asked_by=asked_by)
    before = audit.snapshot(account)
    password = temporary_password()
    account.set_password(password)
    account.must_change_password = True
    account.save()
    end_sessions(account)
    # Whoever knew the old password may have made tokens with it.
    AuthToken.objects.filter(user=account).delete()
    clear_failures(account)
    audit.record(actor=actor, action="core.password.reset", subject=account, before=before, reason=reason)
    note(SecurityKind.PASSWORD_RESET, user=account, actor=actor)
    return NewAccount(account, password)


@transaction.atomic
def sessions_end(*, actor: User, user: User) -> User:
    account = locked(user)
    before = audit.snapshot(account)
    end_sessions(account)
    audit.record(actor=actor, action="core.user.signed_out", subject=account, before=before)
    note(SecurityKind.SESSIONS_ENDED, user=account, actor=actor)
    return account


@transaction.atomic
def account_switch_off(*, actor: User, user: User, reason: str) -> User:
    """Block sign-in; sessions and tokens end at once. The roles remain in case the account is switched on again."""
    check_reason(reason)
    if actor.pk == user.pk:
        message = "You cannot switch off your own account. Ask a colleague at head office."
        raise DomainError(message, code="own_account")
    _keep_one_office(besides=user)
    account = locked(user)
    if not account.is_active:
        raise DomainError("This account is already switched off.", code="is_off", status=409)
    before = audit.snapshot(account)
    account.is_active = False
    account.save()
    end_sessions(account)
    AuthToken.objects.filter(user=account).delete()
    audit.record(actor=actor, action="core.user.switched_off", subject=account, before=before, reason=reason)
    note(SecurityKind.SWITCHED_OFF, user=account, actor=actor)
    return account


@transaction.atomic
def account_switch_on(*, actor: User, user: User, reason: str) -> User:
    check_reason(reason)
    account = locked(user)
    if account.is_active:
        raise DomainError("This account is already switched on.", code="is_on", status=409)
    before = audit.snapshot(account)
    account.is_active = True
    account.save()
    audit.record(actor=actor, action="core.user.switched_on", subject=account, before=before, reason=reason)
    note(SecurityKind.SWITCHED_ON, user=account, actor=actor)
    return account


@transaction.atomic
def role_grant(
    *, actor: User | None, user: User, role: Role, store: Store | None, reason: str, asked_by: User | None = None
) -> Membership:
    """Give a role, with a reason, to another active account; `asked_by` asked for one that takes two people."""
    check_reason(reason)
    _refuse_own_role(actor, user)
    account = locked(user)
    need_two(actor, account, asked_by=asked_by, role=role)
    if not account.is_active:
        raise DomainError("This account is switched off. Switch it on first.", code="is_off", status=409)
    return membership_grant(actor=actor, user=account, role=role, store=store, reason=reason)


@transaction.atomic
def account_open(
    *,
    actor: User | None,
    username: str,
    first_name: str = "",
    last_name: str = "",
    email: str = "",
    role: Role,
    store: Store | None,
    reason: str,
) -> NewAccount:
    """Create an account together with its first role."""
    account = account_create(actor=actor, username=username, first_name=first_name, last_name=last_name, email=email)
    role_give(actor=actor, user=account.user, role=role, store=store, reason=reason)
    return account


@transaction.atomic
def role_give(*, actor: User | None, user: User, role: Role, store: Store | None, reason: str) -> bool:
    """Give a role, or ask a second head office account to confirm it where that takes two.

    Returns
    -------
    bool
        Whether the role is given; False where it waits.
    """
    if actor is not None and takes_two(actor, user, role):
        act_ask(actor=actor, user=user, act=AccountAct.ROLE, role=role, store=store, reason=reason)
        return False
    role_grant(actor=actor, user=user, role=role, store=store, reason=reason)
    return True


@transaction.atomic
def membership_withdraw(*, actor: User, membership: Membership, reason: str) -> None:
    """Withdraw a role with immediate effect."""
    check_reason(reason)
    _refuse_own_role(actor, membership.user)
    if membership.role == Role.OFFICE:
        _keep_one_office(besides=membership.user)
    rows = Membership.objects.select_for_update(of=("self",)).select_related("user", "store")
    withdrawn = rows.filter(pk=membership.pk).first()
    if withdrawn is None:
        raise DomainError("This role was already withdrawn.", code="is_withdrawn", status=409)
    before, pk = audit.snapshot(withdrawn), withdrawn.pk
    withdrawn.delete()
    withdrawn.pk = pk
    audit.record(
        actor=actor,
        action="core.membership.withdrawn",
        subject=withdrawn,
        before=before,
        reason=reason,
        store=withdrawn.store,
    )
    note_role(SecurityKind.ROLE_WITHDRAWN, withdrawn, actor=actor)


def _refuse_own_role(actor: User | None, user: User) -> None:
    """Refuse to change one's own roles: nobody decides alone what they may do."""
    if actor is not None and actor.pk == user.pk:
        raise DomainError("You cannot change your own roles. Ask a colleague at head office.", code="own_role")


def _keep_one_office(*, besides: User) -> None:
    """Refuse to remove the last head office account. The lock also covers two people removing each other at once."""
    rows = Membership.objects.select_for_update(of=("self",)).filter(role=Role.OFFICE).order_by("pk")
    offices = [row for row in rows.select_related("user") if row.user.is_active]
    if offices and all(row.user_id == besides.pk for row in offices):
        message = "This is the last head office account. Give the role to somebody else first."
        raise DomainError(message, code="last_office")


@transaction.atomic
def token_make(*, actor: User, days: int, label: str = "", scope: TokenScope = TokenScope.FULL) -> str:
    """Create an API token for the user's own account. Only its hash is stored, so it cannot be read again."""
    return token_create(actor=actor, user=locked(actor), days=days, label=label, scope=scope)


@transaction.atomic
def token_revoke(*, actor: User, user: User, digest: str, reason: str = "") -> None:
    """Revoke a token: the user's own, or somebody else's with a reason."""
    if actor.pk != user.pk:
        check_reason(reason)
    account = locked(user)
    known = digest if _DIGEST.fullmatch(digest) else ""
    row: Any = AuthToken.objects.filter(user=account, digest=known).first()
    if row is None:
        raise DomainError("This token was already revoked or has expired.", code="no_such_token", status=404)
    row.delete()
    details = f"{token_start(row)}…: {reason}" if reason else f"{token_start(row)}…"
    audit.record(actor=actor, action="core.token.revoked", subject=account, reason=details)
    note(SecurityKind.TOKEN_REVOKED, user=account, actor=actor, details=f"{token_start(row)}…")


@transaction.atomic
def store_change(*, actor: User, store: Store, **details: str) -> Store:
    """Change the name, address, phone number or opening hours of a store. Its web address cannot change."""
    row = Store.objects.select_for_update().get(pk=store.pk)
    before = audit.snapshot(row)
    for name, value in details.items():
        setattr(row, name, value)
    row.name = store_name(row, row.name)
    validate(row)
    row.save()
    audit.record(actor=actor, action="core.store.changed", subject=row, before=before, store=row)
    return row
