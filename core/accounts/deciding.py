"""Confirming or refusing what a colleague at head office asked for."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.accounts.links import link_renew
from core.accounts.second_factor import second_factor_lift
from core.accounts.security_log import note
from core.accounts.services import password_reset, role_grant
from core.domain.errors import DomainError, required_reason
from core.gate.access import Role
from core.gate.two_people import need_another
from core.models import AccountAct, AccountRequest, Decision, SecurityKind, User

_ON_ACCESS = {
    AccountAct.NEW_PASSWORD: password_reset,
    AccountAct.NEW_LINK: link_renew,
    AccountAct.SECOND_FACTOR: second_factor_lift,
}


@transaction.atomic
def request_confirm(*, actor: User, request: AccountRequest, reason: str) -> Any:
    """Carry out what was asked for. Returns what its service returns: a password, a link, a role.

    Raises
    ------
    DomainError
        403 for who asked and whom it concerns, 409 where it was decided already, and what the service itself refuses.
    """
    reason = required_reason(reason)
    request = _open(request)
    need_another(
        "core.account:confirm",
        actor,
        involved=[request.asked_by_id, request.user_id],
        message="You asked for this, or it is about your own account. Another head office account has to confirm it.",
    )
    done = _carry_out(request, actor, f"{request.reason} (confirmed: {reason})")
    _decide(request, actor, Decision.CONFIRMED, reason)
    return done


@transaction.atomic
def request_refuse(*, actor: User, request: AccountRequest, reason: str) -> AccountRequest:
    """Refuse the request, or take back what one asked for oneself."""
    reason = required_reason(reason)
    request = _open(request)
    _decide(request, actor, Decision.REFUSED, reason)
    return request


def _open(request: AccountRequest) -> AccountRequest:
    rows = AccountRequest.objects.select_for_update(of=("self",)).select_related("user", "store", "asked_by")
    request = rows.get(pk=request.pk)
    if request.decision:
        raise DomainError(f"This request was already {request.decision}.", code="already_decided", status=409)
    return request


def _carry_out(request: AccountRequest, actor: User, reason: str) -> Any:
    if request.act == AccountAct.ROLE:
        return role_grant(
            actor=actor,
            user=request.user,
            role=Role(request.role),
            store=request.store,
            reason=reason,
            asked_by=request.asked_by,
        )
    service: Any = _ON_ACCESS[AccountAct(request.act)]
    return service(actor=actor, user=request.user, reason=reason, asked_by=request.asked_by)


def _decide(request: AccountRequest, actor: User, decision: Decision, reason: str) -> None:
    before = audit.snapshot(request)
    request.decision, request.decided_by, request.decided_at = decision, actor, timezone.now()
    request.save(update_fields=["decision", "decided_by", "decided_at"])
    audit.record(actor=actor, action=f"core.account_request.{decision}", subject=request, before=before, reason=reason)
    kind = SecurityKind.CONFIRMED if decision == Decision.CONFIRMED else SecurityKind.REFUSED
    note(kind, user=request.user, actor=actor, details=request.label)
