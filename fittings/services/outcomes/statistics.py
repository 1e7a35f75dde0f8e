"""The statistician's export: made for a reason, and noted in the trail."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.gate.access import allowed
from core.models import User
from fittings.models import StatisticsExport
from fittings.selectors.outcomes.statistics import StatisticsTable, statistics_table


@dataclass(frozen=True, slots=True)
class MadeExport:
    """The rows, and the record of them."""

    table: StatisticsTable
    record: StatisticsExport


@transaction.atomic
def statistics_export(*, actor: User, reason: str, written: Callable[[StatisticsTable], bytes]) -> MadeExport:
    """Make the rows for a statistician; `written` turns them into the bytes whose hash is recorded.

    Raises
    ------
    DomainError
        403 for others than head office, 400 without a reason.
    """
    if not allowed(actor, "fittings.statistics:export"):
        raise DomainError("Only head office exports rows for statistics.", code="forbidden", status=403)
    why = required_reason(reason)
    table = statistics_table(actor, on=timezone.localdate())
    record = StatisticsExport(
        made_at=timezone.now(),
        made_by=actor,
        reason=why,
        until=table.until,
        people=table.people,
        suppressed=table.suppressed,
        sha256=hashlib.sha256(written(table)).hexdigest(),
    )
    check(record)
    record.save()
    audit.record(actor=actor, action="fittings.statistics.exported", subject=record, reason=why)
    return MadeExport(table, record)
