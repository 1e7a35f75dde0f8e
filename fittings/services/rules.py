"""Versions of the rules: drafted, adopted, or discarded before they were ever used."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.accounts.two_accounts import is_other_office
from core.database.validation import check
from core.domain.errors import DomainError, given_reason
from core.gate.permissions import allowed
from core.gate.two_people import need_another
from core.models import User
from fittings.domain.fitting.rules_data import match_from_data, rules_from_data
from fittings.models import NeedRules


def _require(actor: User, reason: str) -> None:
    if not allowed(actor, "fittings.need_rules:write"):
        raise DomainError("Only head office changes the rules.", code="forbidden", status=403)
    given_reason(reason)


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


def _locked(rules: NeedRules) -> tuple[NeedRules | None, NeedRules | None]:
    """The rules named and those in use, locked in one order, so that two adoptions wait for each other."""
    versions = {item.pk: item for item in NeedRules.objects.select_for_update(of=("self",)).order_by("pk")}
    return versions.get(rules.pk), next((item for item in versions.values() if item.is_current), None)


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
    chosen, current = _locked(rules)
    if chosen is None:
        raise DomainError("There are no such rules any more.", code="not_found", status=404)
    if chosen.is_current:
        raise DomainError(f"{chosen.version} is in use already.", code="already_current", status=409)
    if is_other_office(actor):
        need_another(
            "fittings.need_rules:adopt",
            actor,
            involved=[chosen.created_by_id],
            message="You wrote this version. A colleague at head office has to adopt it.",
        )
    changes = []
    if current is not None:
        before = audit.snapshot(current)
        current.is_current = False
        current.save(update_fields=["is_current"])
        changes.append(audit.Change("fittings.need_rules.replaced", current, before, reason.strip()))
    before = audit.snapshot(chosen)
    chosen.is_current, chosen.adopted_at, chosen.adopted_by = True, timezone.now(), actor
    chosen.save(update_fields=["is_current", "adopted_at", "adopted_by"])
    changes.append(audit.Change("fittings.need_rules.adopted", chosen, before, reason.strip()))
    audit.record_many(changes, actor=actor)
    return chosen


@transaction.atomic
def need_rules_discard(*, actor: User, rules: NeedRules, reason: str) -> None:
    """Remove a draft. What was ever adopted stays: fittings name it.

    Raises
    ------
    DomainError
        403 for others than head office, 400 without a reason, 409 for rules that were adopted.
    """
    _require(actor, reason)
    chosen, _ = _locked(rules)
    if chosen is None:
        return
    if chosen.adopted_at is not None:
        raise DomainError(f"{chosen.version} was adopted and stays.", code="was_adopted", status=409)
    before, pk = audit.snapshot(chosen), chosen.pk
    chosen.delete()
    chosen.pk = pk
    audit.record(
        actor=actor, action="fittings.need_rules.discarded", subject=chosen, before=before, reason=reason.strip()
    )
