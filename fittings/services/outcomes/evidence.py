"""The practice's own outcomes on the public page: proposed by one person of head office, published by another."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.gate.access import allowed
from core.gate.two_people import need_another
from core.models import Store, User
from fittings.models import EvidenceRelease, ReleaseState
from fittings.selectors.outcomes.outcomes import Outcomes, Scope, outcomes_for

PUBLISH = "fittings.evidence:publish"


def _require(actor: User) -> None:
    if not allowed(actor, PUBLISH):
        raise DomainError("Only head office publishes outcomes.", code="forbidden", status=403)


def _outcomes(actor: User) -> tuple[Outcomes, Scope]:
    """Outcomes of all stores, with the noise, rounding and hiding that head office sees, whoever asks."""
    scope = Scope(tuple(Store.objects.real().order_by("name")), hides=True)
    return outcomes_for(actor, scope=scope), scope


@transaction.atomic
def evidence_propose(*, actor: User, reason: str, worded: Callable[[Outcomes], dict[str, Any]]) -> EvidenceRelease:
    """Propose the present outcomes for the public page; `worded` turns them into what the public will read.

    Raises
    ------
    DomainError
        403 for others than head office, 400 without a reason, 409 where a proposal waits already or where the counts
        are so small that the groups are hidden.
    """
    _require(actor)
    why = required_reason(reason)
    if EvidenceRelease.objects.filter(state=ReleaseState.PROPOSED).exists():
        raise DomainError("A proposal is already waiting. Publish or withdraw it first.", code="proposed", status=409)
    outcomes, scope = _outcomes(actor)
    if outcomes.comparison is None or scope.until is None:
        words = "So few people are counted that figures are hidden. Nothing can be published yet."
        raise DomainError(words, code="too_few", status=409)
    release = EvidenceRelease(
        figures=worded(outcomes),
        until=scope.until,
        reason=why,
        proposed_at=timezone.now(),
        proposed_by=actor,
    )
    check(release)
    release.save()
    audit.record(actor=actor, action="fittings.evidence.proposed", subject=release, reason=why)
    return release


@transaction.atomic
def evidence_publish(*, actor: User, release: EvidenceRelease) -> EvidenceRelease:
    """Publish a proposal of somebody else; what was published before is replaced.

    Raises
    ------
    DomainError
        403 for others than head office and for whoever proposed it, 409 where it is not a proposal any more.
    """
    _require(actor)
    held = _locked(release)
    if held.state != ReleaseState.PROPOSED:
        raise DomainError(f"These figures are already {held.get_state_display()}.", code="not_proposed", status=409)
    need_another(
        "fittings.evidence:publish",
        actor,
        involved=[held.proposed_by_id],
        message="Somebody other than the person who proposed it publishes it.",
    )
    for earlier in EvidenceRelease.objects.select_for_update(of=("self",)).filter(state=ReleaseState.PUBLISHED):
        _end(earlier, actor, ReleaseState.REPLACED, "")
    before = audit.snapshot(held)
    held.state, held.confirmed_at, held.confirmed_by = ReleaseState.PUBLISHED, timezone.now(), actor
    check(held)
    held.save()
    audit.record(actor=actor, action="fittings.evidence.published", subject=held, before=before)
    return held


@transaction.atomic
def evidence_withdraw(*, actor: User, release: EvidenceRelease, reason: str) -> EvidenceRelease:
    """Take published outcomes, or a proposal, back; the public page is without figures at once."""
    _require(actor)
    why = required_reason(reason)
    held = _locked(release)
    if held.state not in (ReleaseState.PROPOSED, ReleaseState.PUBLISHED):
        raise DomainError(f"These figures are already {held.get_state_display()}.", code="not_published", status=409)
    _end(held, actor, ReleaseState.WITHDRAWN, why)
    return held


def _locked(release: EvidenceRelease) -> EvidenceRelease:
    return EvidenceRelease.objects.select_for_update(of=("self",)).get(pk=release.pk)


def _end(held: EvidenceRelease, actor: User, state: ReleaseState, reason: str) -> None:
    before = audit.snapshot(held)
    held.state, held.ended_at, held.ended_by = state, timezone.now(), actor
    check(held)
    held.save()
    audit.record(actor=actor, action=f"fittings.evidence.{state.value}", subject=held, before=before, reason=reason)
