"""Follow-ups: what was reported before, what is due."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from fittings.domain.people.recurrence import Pain, PainDay
from fittings.domain.regions import Complaint
from fittings.models import AnswerConcern, Fitting, FollowUp, TryKind


@dataclass(frozen=True, slots=True)
class Assessment:
    """What follows from the answers of a follow-up; `assessed` says that the question about pain was answered."""

    assessed: bool
    refer: bool
    advice: tuple[str, ...]


def history_of(fitting: Fitting) -> list[Complaint]:
    """The complaints stated at the fitting."""
    return [Complaint(item.region, item.side or None, item.now, item.settled_on) for item in fitting.history.all()]


def pain_days_before(fitting: Fitting, on: dt.date, *, but: int = 0) -> list[PainDay]:
    """What was reported at the follow-ups answered up to a day, all but one."""
    answered = fitting.follow_ups.answered().exclude(pk=but).prefetch_related("pains")
    days = []
    for follow_up in answered:
        if follow_up.answered_at is None or timezone.localdate(follow_up.answered_at) > on:
            continue
        days.append(pain_day_of(follow_up, timezone.localdate(follow_up.answered_at)))
    return days


def pain_day_of(follow_up: FollowUp, on: dt.date) -> PainDay:
    """What an answered follow-up says about pain."""
    pains = tuple(Pain(pain.region, pain.side or None, pain.score) for pain in follow_up.pains.all())
    return PainDay(on, pains, follow_up.nothing_hurts)


def referral_of(follow_up: FollowUp) -> Assessment:
    """Whether pain was answered at a follow-up, and whether to see a clinician, as judged then: two queries."""
    day = pain_day_of(follow_up, follow_up.due_on)
    concern = AnswerConcern.objects.filter(follow_up=follow_up).first()
    return Assessment(day.assessed, concern is not None, tuple(concern.advice) if concern else ())


def with_tries(follow_ups: QuerySet[FollowUp]) -> QuerySet[FollowUp]:
    """Follow-ups with how often nobody was reached (`calls`)."""
    return follow_ups.annotate(calls=Count("tries", filter=Q(tries__kind=TryKind.NOT_REACHED)))
