"""What versions of the need rules and of the referral rules have in common: one is in use, drafts wait."""

from __future__ import annotations

from typing import TypeVar

from django.utils import timezone

from core import audit
from core.domain.errors import DomainError
from core.models import User
from fittings.models import NeedRules, ReferralRules

Rules = TypeVar("Rules", NeedRules, ReferralRules)


def lock(rules: Rules) -> tuple[Rules | None, Rules | None]:
    """Return the rules named and those in use, locked in one order, so that two adoptions wait for each other."""
    versions = {item.pk: item for item in type(rules).objects.select_for_update(of=("self",)).order_by("pk")}
    return versions.get(rules.pk), next((item for item in versions.values() if item.is_current), None)


def lock_to_adopt(rules: Rules, *, gone: str) -> tuple[Rules, Rules | None]:
    """Lock as `lock` does; 404 with the words `gone` where the draft was discarded, 409 for the version in use."""
    chosen, current = lock(rules)
    if chosen is None:
        raise DomainError(gone, code="not_found", status=404)
    if chosen.is_current:
        raise DomainError(f"{chosen.version} is already in use.", code="already_current", status=409)
    return chosen, current


def take_into_use(*, actor: User, chosen: Rules, current: Rules | None, record: str, reason: str) -> Rules:
    """Replace the version in use by one that is locked; `record` is the name of both in the trail."""
    changes = []
    if current is not None:
        before = audit.snapshot(current)
        current.is_current = False
        current.save(update_fields=["is_current"])
        changes.append(audit.Change(f"{record}.replaced", current, before, reason.strip()))
    before = audit.snapshot(chosen)
    chosen.is_current, chosen.adopted_at, chosen.adopted_by = True, timezone.now(), actor
    chosen.save(update_fields=["is_current", "adopted_at", "adopted_by"])
    changes.append(audit.Change(f"{record}.adopted", chosen, before, reason.strip()))
    audit.record_many(changes, actor=actor)
    return chosen


def discard(*, actor: User, rules: Rules, record: str, reason: str) -> None:
    """Remove a draft; 409 for what was ever adopted, because fittings name it."""
    chosen, _ = lock(rules)
    if chosen is None:
        return
    if chosen.adopted_at is not None:
        raise DomainError(f"{chosen.version} was adopted and stays.", code="was_adopted", status=409)
    before, pk = audit.snapshot(chosen), chosen.pk
    chosen.delete()
    chosen.pk = pk
    audit.record(actor=actor, action=f"{record}.discarded", subject=chosen, before=before, reason=reason.strip())
