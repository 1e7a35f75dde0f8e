"""Acts on accounts that take two people of head office, so that no single hand makes a reviewer or another office.

A practice with one head office account acts alone: there is nobody else to ask. From the second on, roles of office and
reviewer, and new passwords and lifted second factors of those who hold one, wait until another account confirms them.
"""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from core import audit
from core.accounts.security_log import note
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.gate.access import Role
from core.models import AccountAct, AccountRequest, Membership, SecurityKind, Store, User

# The roles by which somebody could do alone what takes two.
GUARDED = frozenset({Role.OFFICE, Role.REVIEWER})


def takes_two(actor: User | None, user: User, role: Role | None = None) -> bool:
    """Whether an act on an account waits for a second head office account.

    Parameters
    ----------
    actor : who would act; None is a command on the server, which is not asked
    role : the role to be given; without one the act is on the access of the account
    """
    is_guarded = role in GUARDED if role is not None else bool(user.roles() & GUARDED)
    return actor is not None and is_guarded and is_other_office(actor, user)


def is_other_office(*besides: User) -> bool:
    """Whether there is a head office account besides these."""
    held = Membership.objects.filter(role=Role.OFFICE, user__is_active=True)
    return held.exclude(user__in=[user.pk for user in besides]).exists()


def need_two(actor: User | None, user: User, *, asked_by: User | None, role: Role | None = None) -> None:
    """Refuse an act that takes two where only one person wants it."""
    is_asked = asked_by is not None and actor is not None and asked_by.pk != actor.pk
    if takes_two(actor, user, role) and not is_asked:
        raise DomainError(
            "This takes two people of head office. Ask for it; a colleague confirms it.",
            code="needs_second",
            status=409,
        )


@transaction.atomic
def act_ask(
    *,
    actor: User,
    user: User,
    act: AccountAct,
    reason: str,
    role: Role | None = None,
    store: Store | None = None,
) -> AccountRequest:
    """Ask for an act on an account; a second head office account confirms or refuses it."""
    if actor.pk == user.pk:
        raise DomainError("You cannot ask for this on your own account. A colleague does.", code="own_account")
    request = AccountRequest(
        user=user,
        act=act,
        role=role or "",
        store=store,
        reason=required_reason(reason),
        asked_by=actor,
        asked_at=timezone.now(),
    )
    check(request)
    request.save()
    audit.record(actor=actor, action="core.account_request.made", subject=request, reason=request.reason)
    note(SecurityKind.ASKED, user=user, actor=actor, details=request.label)
    return request
