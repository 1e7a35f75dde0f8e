"""Versions of the rules: drafted, adopted, or discarded before they were ever used."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.accounts.two_accounts import is_other_office
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.gate.access import allowed
from core.gate.two_people import need_another
from core.models import User
from fittings.domain.fitting.rules_data import match_from_data, rules_from_data
from fittings.models import NeedRules
from fittings.services.fitting.rule_versions import discard, lock_to_adopt, take_into_use

RECORD = "fittings.need_rules"


def _require(actor: User, reason: str) -> None:
    if not allowed(actor, "fittings.need_rules:write"):
        raise DomainError("Only head office changes the rules.", code="forbidden", status=403)
    required_reason(reason)


@transaction.atomic
def need_rules_draft(
    *, actor: User, version: str, data: Mapping[str, Any], match: Mapping[str, Any], reason: str
) -> NeedRules:
    """Make a new version of the rules, as a draft. `data` and `match` are what `rules_data` reads, without the version.

    Raises
    ------
    DomainError
        403 for others than head office, 400 naming what is wrong, also for a version that there is already.
    """
    _require(actor, reason)
    version = version.strip()
    try:
        rules_from_data({**data, "version": version})
        match_from_data(match)
    except (TypeError, ValueError) as problem:
        raise DomainError(str(problem), code="invalid") from problem
    rules = NeedRules(
        version=version,
        data={**data, "version": version},
        match=dict(match),
        reason=reason.strip(),
        created_at=timezone.now(),
        created_by=actor,
    )
    check(rules)
    rules.save()
    audit.record(actor=actor, action="fittings.need_rules.drafted", subject=rules, reason=rules.reason)
    return rules


@transaction.atomic
def need_rules_adopt(*, actor: User, rules: NeedRules, reason: str) -> NeedRules:
    """Use a version for every fitting from now on; past fittings keep the rules that they were made by.

    Raises
    ------
    DomainError
        403 for others than head office and for the author where there is a colleague, 400 without a reason, 409 for the
        version in use.
    """
    _require(actor, reason)
    chosen, current = lock_to_adopt(rules, gone="These rules no longer exist: the draft was discarded.")
    if is_other_office(actor):
        need_another(
            "fittings.need_rules:adopt",
            actor,
            involved=[chosen.created_by_id],
            message="You wrote this version. A colleague at head office has to adopt it.",
        )
    return take_into_use(actor=actor, chosen=chosen, current=current, record=RECORD, reason=reason)


@transaction.atomic
def need_rules_discard(*, actor: User, rules: NeedRules, reason: str) -> None:
    """Remove a draft. What was ever adopted stays: fittings name it.

    Raises
    ------
    DomainError
        403 for others than head office, 400 without a reason, 409 for rules that were adopted.
    """
    _require(actor, reason)
    discard(actor=actor, rules=rules, record=RECORD, reason=reason)
