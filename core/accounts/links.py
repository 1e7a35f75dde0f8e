"""Single-use links: the holder of the link chooses the account's password in the browser.

The token is Django's own for resetting a password: signed with SECRET_KEY, valid for PASSWORD_RESET_TIMEOUT seconds. It
covers the stored password and the session epoch, so a link stops working once it was used and once a newer one is made.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.core.exceptions import ValidationError
from django.db import transaction
from django.urls import reverse
from knox.models import AuthToken

from core import audit
from core.accounts.authentication import PracticeBackend
from core.accounts.lockout import clear_failures
from core.accounts.provisioning import user_create
from core.accounts.security_log import note
from core.accounts.services import check_reason, end_sessions, locked, refuse_password, refuse_taken_name, role_give
from core.accounts.two_accounts import need_two
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import SecurityKind, Store, User


@dataclass(frozen=True, slots=True)
class NewLink:
    """An account and the link to hand over; the link is stored nowhere."""

    user: User
    url: str


class _LinkTokens(PasswordResetTokenGenerator):
    key_salt = "core.accounts.links"

    def _make_hash_value(self, user: User, timestamp: int) -> str:
        return f"{user.pk}:{user.password}:{user.session_epoch}:{timestamp}"


_tokens = _LinkTokens()


def link_hours() -> int:
    """Return how many hours a link works."""
    return settings.PASSWORD_RESET_TIMEOUT // 3600


def _link(user: User) -> NewLink:
    path = reverse("core:welcome", kwargs={"pk": user.pk, "token": _tokens.make_token(user)})
    return NewLink(user, settings.SITE_URL.rstrip("/") + path)


@transaction.atomic
def account_invite(
    *,
    actor: User | None,
    username: str,
    first_name: str = "",
    last_name: str = "",
    email: str = "",
    role: Role,
    store: Store | None,
    reason: str,
) -> NewLink:
    """Create an account with its first role; its owner chooses the password by the link, so nobody else knows it."""
    refuse_taken_name(username)
    user = user_create(
        actor=actor, username=username, password=None, first_name=first_name, last_name=last_name, email=email
    )
    role_give(actor=actor, user=user, role=role, store=store, reason=reason)
    return _link(user)


@transaction.atomic
def link_renew(*, actor: User | None, user: User, reason: str, asked_by: User | None = None) -> NewLink:
    """Replace the password of an account by a new link, end its sessions and tokens, and unlock it.

    Earlier links stop working.
    """
    check_reason(reason)
    account = locked(user)
    if not account.is_active:
        raise DomainError("This account is switched off. Switch it on first.", code="is_off", status=409)
    need_two(actor, account, asked_by=asked_by)
    before = audit.snapshot(account)
    account.set_unusable_password()
    account.must_change_password = False
    account.save()
    end_sessions(account)
    # Whoever knew the old password may have made tokens with it.
    AuthToken.objects.filter(user=account).delete()
    clear_failures(account)
    audit.record(actor=actor, action="core.link.issued", subject=account, before=before, reason=reason)
    note(SecurityKind.LINK_ISSUED, user=account, actor=actor)
    return _link(account)


def user_of_link(pk: int, token: str) -> User:
    """Return the user whose password a link may set.

    Raises
    ------
    DomainError
        Where the link was used, replaced by a newer one, has expired or is damaged; nobody learns which accounts exist.
    """
    user = PracticeBackend().get_user(pk)
    if user is None or not _tokens.check_token(user, token):
        raise DomainError(
            "This link was already used, was replaced by a newer one, or has expired. If you have chosen a password, "
            "sign in with it. Otherwise ask whoever gave you the link for a new one.",
            code="link_refused",
            status=410,
        )
    return user


@transaction.atomic
def link_use(*, pk: int, token: str, password: str) -> User:
    """Set the password that the holder of a link chose. The lock makes sure that a link sets one password only."""
    User.objects.select_for_update().filter(pk=pk).first()
    user = user_of_link(pk, token)
    before = audit.snapshot(user)
    try:
        validate_password(password, user)
    except ValidationError as problem:
        refuse_password(problem.messages)
    user.set_password(password)
    user.must_change_password = False
    user.save()
    end_sessions(user)
    audit.record(
        actor=user, action="core.password.changed", subject=user, before=before, reason="chosen by a single-use link"
    )
    note(SecurityKind.PASSWORD_CHANGED, user=user, actor=user, details="by a single-use link")
    return user
