"""Follow-ups: what was reported before, what is due."""

from __future__ import annotations

import datetime as dt

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from fittings.domain.recurrence import Pain, PainDay
from fittings.domain.regions import Complaint
from fittings.models import Fitting, FollowUp, TryKind


def history_of(fitting: Fitting) -> list[Complaint]:
    """The complaints told at the fitting."""
    return [Complaint(item.region, item.side or None, item.now, item.settled_on) for item in fitting.history.all()]


def pain_days_before(fitting: Fitting, on: dt.date) -> list[PainDay]:
    """What was reported at the follow-ups answered up to a day."""
    answered = fitting.follow_ups.answered().prefetch_related("pains")
    days = []
    for follow_up in answered:
        # Where pain was not answered, nothing is known of the day: it must not count as free of pain.
        if follow_up.free_of_complaints is None:
            continue
        if follow_up.answered_at is None or timezone.localdate(follow_up.answered_at) > on:
            continue
        pains = tuple(Pain(pain.region, pain.side or None, pain.score) for pain in follow_up.pains.all())
        days.append(PainDay(timezone.localdate(follow_up.answered_at), pains))
    return days


def with_tries(follow_ups: QuerySet[FollowUp]) -> QuerySet[FollowUp]:
    """Follow-ups with how often nobody was reached (`calls`)."""
    return follow_ups.annotate(calls=Count("tries", filter=Q(tries__kind=TryKind.NOT_REACHED)))
