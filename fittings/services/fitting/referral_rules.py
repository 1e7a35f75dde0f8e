"""Versions of the referral rules: drafted by one person, adopted by another, or discarded before they were used."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.gate.access import allowed
from core.gate.two_people import need_another
from core.models import User
from fittings.domain.fitting.referral_rules import referral_from_data
from fittings.models import ReferralRules
from fittings.services.fitting.rule_versions import discard, lock_to_adopt, take_into_use

RECORD = "fittings.referral_rules"
WRITE, ADOPT = "fittings.referral_rules:write", "fittings.referral_rules:adopt"


def _require(actor: User, action: str, reason: str) -> None:
    if not allowed(actor, action):
        raise DomainError("You may read the referral rules, but not change them.", code="forbidden", status=403)
    required_reason(reason)


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


@transaction.atomic
def referral_rules_adopt(*, actor: User, rules: ReferralRules, reason: str) -> ReferralRules:
    """Use a version from now on; past fittings and answers stay as they were judged.

    Raises
    ------
    DomainError
        403 for those who may not adopt and for the author, 400 without a reason, 409 for the version in use.
    """
    _require(actor, ADOPT, reason)
    chosen, current = lock_to_adopt(rules, gone="These referral rules no longer exist: the draft was discarded.")
    need_another(
        ADOPT,
        actor,
        involved=[chosen.created_by_id],
        message="You wrote this version. Somebody else has to adopt it: head office or a store’s manager.",
    )
    return take_into_use(actor=actor, chosen=chosen, current=current, record=RECORD, reason=reason)


@transaction.atomic
def referral_rules_discard(*, actor: User, rules: ReferralRules, reason: str) -> None:
    """Remove a draft. What was ever adopted stays: fittings name it.

    Raises
    ------
    DomainError
        403 for others than head office, 400 without a reason, 409 for rules that were adopted.
    """
    _require(actor, WRITE, reason)
    discard(actor=actor, rules=rules, record=RECORD, reason=reason)
