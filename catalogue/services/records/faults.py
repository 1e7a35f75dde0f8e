"""Faulty pairs: reported by a store, answered by the lab."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.models import FaultReport, Shoe
from catalogue.services.rights import needs
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.models import Store, User


@transaction.atomic
def fault_report(
    *, actor: User, store: Store, shoe: Shoe, size_eu: Decimal, words: str, chosen_at: dt.datetime
) -> FaultReport:
    """Tell the lab of a faulty pair. Nothing of the person who wore it is passed on but for how long.

    Raises
    ------
    DomainError
        400 without words.
    """
    now = timezone.now()
    report = FaultReport(
        shoe=shoe,
        store=store,
        size_eu=size_eu,
        words=required_reason(words),
        weeks_worn=max(0, (now - chosen_at).days // 7),
        reported_at=now,
        reported_by=actor,
    )
    check(report)
    report.save()
    audit.record(actor=actor, action="catalogue.fault.reported", subject=report, store=store)
    return report


@needs("catalogue.fault:answer")
@transaction.atomic
def fault_answer(*, actor: User, report: FaultReport, answer: str) -> FaultReport:
    """Say what the lab did about a faulty pair, once.

    Raises
    ------
    DomainError
        400 without words, 409 where it was answered before.
    """
    locked = FaultReport.objects.select_for_update(of=("self",)).get(pk=report.pk)
    if locked.answered_at is not None:
        raise DomainError("This report was already answered.", code="already_answered", status=409)
    before = audit.snapshot(locked)
    locked.answer, locked.answered_at, locked.answered_by = required_reason(answer), timezone.now(), actor
    check(locked)
    locked.save()
    audit.record(actor=actor, action="catalogue.fault.answered", subject=locked, before=before)
    return locked
