"""The entries of the audit trail that the lab reads."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.http import Http404

from core.models import AuditEntry

# The trail also holds what happened to people in the stores; the lab reads its own records and the catalogue's.
LAB_RECORDS = ("labtests.", "catalogue.")


@dataclass(frozen=True, slots=True)
class TrailFilter:
    """Which entries of the trail are asked for; empty asks for all."""

    who: str = ""
    action: str = ""
    record: str = ""
    number: str = ""
    since: dt.date | None = None
    until: dt.date | None = None


def trail(asked: TrailFilter) -> QuerySet[AuditEntry]:
    """Entries on the lab's and the catalogue's records, newest first."""
    ours = Q()
    for prefix in LAB_RECORDS:
        ours |= Q(object_type__startswith=prefix)
    given: dict[str, object] = {
        "actor__username": asked.who,
        "action": asked.action,
        "object_type": asked.record,
        "object_id": asked.number,
        "at__date__gte": asked.since,
        "at__date__lte": asked.until,
    }
    return AuditEntry.objects.filter(ours, **{name: value for name, value in given.items() if value})


def trail_entry(pk: int) -> AuditEntry:
    entry = trail(TrailFilter()).filter(pk=pk).first()
    if entry is None:
        raise Http404
    return entry
