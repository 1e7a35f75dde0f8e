"""Informing the stores that published scores turned out to be wrong."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from django.db import transaction

from catalogue.models import IncidentNotice, NoticeCard
from core import audit
from core.models import User

SAME_DECISION = dt.timedelta(hours=1)


@transaction.atomic
def incident_notice_send(*, actor: User, score_cards: Iterable[int], reason: str, at: dt.datetime) -> IncidentNotice:
    """Record which score cards rested on tests that were taken back, also those that were replaced since."""
    notice = IncidentNotice.objects.create(at=at, by=actor, reason=reason)
    NoticeCard.objects.bulk_create(NoticeCard(notice=notice, score_card_id=card) for card in sorted(set(score_cards)))
    audit.record(actor=actor, action="catalogue.incident_notice.sent", subject=notice, reason=reason)
    return notice


@transaction.atomic
def taken_back_notice_send(
    *, actor: User, score_cards: Iterable[int], reason: str, at: dt.datetime
) -> IncidentNotice | None:
    """Inform the stores that one test was taken back; None where there is nothing that they do not know already.

    A decision on many tests says the same of each: a card is named once.
    """
    known = NoticeCard.objects.filter(notice__by=actor, notice__reason=reason, notice__at__gte=at - SAME_DECISION)
    new = set(score_cards) - set(known.values_list("score_card_id", flat=True))
    return incident_notice_send(actor=actor, score_cards=new, reason=reason, at=at) if new else None
