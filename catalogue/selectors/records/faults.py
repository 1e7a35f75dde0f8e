"""Faulty pairs that stores reported."""

from __future__ import annotations

from django.db.models import F, QuerySet

from catalogue.models import FaultReport


def fault_reports() -> QuerySet[FaultReport]:
    """Return the reports of all stores, those without an answer first."""
    rows = FaultReport.objects.select_related("shoe__brand", "store", "reported_by", "answered_by")
    return rows.order_by(F("answered_at").desc(nulls_first=True), "-reported_at", "-pk")
