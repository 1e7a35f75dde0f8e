"""Versions of the referral rules: drafted by one person, adopted by another, or discarded before they were used."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, given_reason
from core.gate.permissions import allowed
from core.gate.two_people import need_another
from core.models import User
from fittings.domain.fitting.referral_rules import referral_from_data
from fittings.models import ReferralRules

WRITE, ADOPT = "fittings.referral_rules:write", "fittings.referral_rules:adopt"


def _require(actor: User, action: str, reason: str) -> None:
    if not allowed(actor, action):
        raise DomainError("You may read the referral rules, but not change them.", code="forbidden", status=403)
    given_reason(reason)


@transaction.atomic
def referral_rules_draft(*, actor: User, version: str, data: Mapping[str, Any], reason: str) -> ReferralRules:
    """Make a new version, as a draft. `data` is what `referral_from_data` reads, without the version.

    Raises
    ------
    DomainError
        403 for others than head office, 400 naming what is wrong, also for a version that there is already.
    """
    _require(actor, WRITE, reason)
    version = version.strip()
    try:
        referral_from_data({**data, "version": version})
    except (TypeError, ValueError) as problem:
        raise DomainError(str(problem), code="invalid") from problem
    rules = ReferralRules(
        version=version,
        data={**data, "version": version},
        reason=reason.strip(),
        created_at=timezone.now(),
        created_by=actor,
    )
    check(rules)
    rules.save()
    audit.record(actor=actor, action="fittings.referral_rules.drafted", subject=rules, reason=rules.reason)
    return rules


def _locked(rules: ReferralRules) -> tuple[ReferralRules | None, ReferralRules | None]:
    """The rules named and those in use, locked in one order, so that two adoptions wait for each other."""
    versions = {item.pk: item for item in ReferralRules.objects.select_for_update(of=("self",)).order_by("pk")}
    return versions.get(rules.pk), next((item for item in versions.values() if item.is_current), None)


@transaction.atomic
def referral_rules_adopt(*, actor: User, rules: ReferralRules, reason: str) -> ReferralRules:
    """Use a version from now on; past fittings and answers stay as they were judged.

    Raises
    ------
    DomainError
        403 for those who may not adopt and for the author, 400 without a reason, 409 for the version in use.
    """
    _require(actor, ADOPT, reason)
    chosen, current = _locked(rules)
    if chosen is None:
        raise DomainError("There are no such referral rules any more.", code="not_found", status=404)
    if chosen.is_current:
        raise DomainError(f"{chosen.version} is in use already.", code="already_current", status=409)
    need_another(
        ADOPT,
        actor,
        involved=[chosen.created_by_id],
        message="You wrote this version. Somebody else has to adopt it: head office or a store's manager.",
    )
    changes = []
    if current is not None:
        before = audit.snapshot(current)
        current.is_current = False
        current.save(update_fields=["is_current"])
        changes.append(audit.Change("fittings.referral_rules.replaced", current, before, reason.strip()))
    before = audit.snapshot(chosen)
    chosen.is_current, chosen.adopted_at, chosen.adopted_by = True, timezone.now(), actor
    chosen.save(update_fields=["is_current", "adopted_at", "adopted_by"])
    changes.append(audit.Change("fittings.referral_rules.adopted", chosen, before, reason.strip()))
    audit.record_many(changes, actor=actor)
    return chosen


@transaction.atomic
def referral_rules_discard(*, actor: User, rules: ReferralRules, reason: str) -> None:
    """Remove a draft. What was ever adopted stays: fittings name it.

    Raises
    ------
    DomainError
        403 for others than head office, 400 without a reason, 409 for rules that were adopted.
    """
    _require(actor, WRITE, reason)
    chosen, _ = _locked(rules)
    if chosen is None:
        return
    if chosen.adopted_at is not None:
        raise DomainError(f"{chosen.version} was adopted and stays.", code="was_adopted", status=409)
    before, pk = audit.snapshot(chosen), chosen.pk
    chosen.delete()
    chosen.pk = pk
    audit.record(
        actor=actor, action="fittings.referral_rules.discarded", subject=chosen, before=before, reason=reason.strip()
    )
