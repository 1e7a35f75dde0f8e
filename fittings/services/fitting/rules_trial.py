"""A trial of need rules, noted where it is shown over all stores."""

from __future__ import annotations

from django.db import connection, transaction
from django.utils import timezone

from core.domain.errors import DomainError
from core.gate.access import allowed
from core.models import User
from fittings.models import NeedRules, TrialShown
from fittings.selectors.fitting.rules_trial import RulesTrial, rules_hash, rules_trial

TRIAL_LOCK = 0x7472_6961  # "tria"


@transaction.atomic
def rules_try(*, actor: User, rules: NeedRules) -> RulesTrial:
    """Try a version of the rules on past fittings, and note what was shown for the trials that follow.

    Raises
    ------
    DomainError
        403 for others than head office.
    """
    if not allowed(actor, "fittings.need_rules:read"):
        raise DomainError("Only head office tries rules.", code="forbidden", status=403)
    with connection.cursor() as cursor:
        # Of two trials at once the second sees the first.
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [TRIAL_LOCK])
    found = rules_trial(actor, rules)
    if found.until is not None and not found.withheld:
        values = {"results": list(found.results), "shown_at": timezone.now()}
        TrialShown.objects.get_or_create(rules_hash=rules_hash(rules), until=found.until, defaults=values)
    return found
