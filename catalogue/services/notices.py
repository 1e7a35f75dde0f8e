"""Informing the stores that published scores turned out to be wrong."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db import transaction

from catalogue.models import IncidentNotice, NoticeCard
from core import audit
from core.models import User


@transaction.atomic
def incident_notice_send(*, actor: User, score_cards: Iterable[int], reason: str, at: dt.datetime) -> IncidentNotice:
    """Record which score cards an incident affects, also those that were replaced since."""
    notice = IncidentNotice.objects.create(at=at, by=actor, reason=reason)
    NoticeCard.objects.bulk_create(NoticeCard(notice=notice, score_card_id=card) for card in sorted(set(score_cards)))
    audit.record(actor=actor, action="catalogue.incident_notice.sent", subject=notice, reason=reason)
    return notice
