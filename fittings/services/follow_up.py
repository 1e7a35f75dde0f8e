"""Answering a follow-up."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from core import audit
from core.domain.errors import DomainError
from core.models import User
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.fitting.referral import referral_after_answer
from fittings.domain.outcomes.overuse import overuse_score
from fittings.domain.outcomes.recurrence import PainDay, find_recurrence, free_of
from fittings.models import FollowUp, PainReport
from fittings.selectors.follow_ups import history_of, pain_days_before
from fittings.selectors.referral import current_referral_rules
from fittings.services.checks import check_answer, check_record, require
from fittings.services.concern import concern_open


@transaction.atomic
def follow_up_answer(
    *, actor: User | None, follow_up: FollowUp, answer: FollowUpAnswer, at: dt.datetime | None = None
) -> FollowUp:
    """Enter the answers of a follow-up and say whether a complaint came back.

    An answer that the referral rules send to a clinician is put on the list of answers to look after.

    Parameters
    ----------
    actor : the member of staff who enters them; None for the customer through the signed link
    at : when they were given; now where left out

    Raises
    ------
    DomainError
        400 naming every bad field, 404 for another store, 409 when it was answered before.
    """
    rows = FollowUp.objects.select_for_update(of=("self",)).select_related("fitting__store", "fitting__fitter")
    locked = rows.get(pk=follow_up.pk)
    fitting = locked.fitting
    if actor is not None:
        require(actor, "fittings.follow_up:answer", fitting.store)
    if locked.answered_at is not None:
        raise DomainError("This follow-up was answered already.", code="already_answered", status=409)
    moment = at or timezone.now()
    if moment < fitting.at:
        raise DomainError("A follow-up can't be answered before its fitting.", code="before_fitting", status=400)
    check_answer(answer)
    locked.answered_at, locked.answered_by = moment, actor
    _fill(locked, answer)
    _judge(locked, answer, on=timezone.localdate(moment))
    check_record(locked)
    before = audit.snapshot(follow_up)
    locked.save()
    PainReport.objects.bulk_create(
        PainReport(follow_up=locked, region=pain.region, side=pain.side or "", score=pain.score) for pain in answer.pain
    )
    audit.record(actor=actor, action="fittings.follow_up.answered", subject=locked, before=before, store=fitting.store)
    _refer(locked, answer, actor=actor, at=moment)
    return locked


def _refer(follow_up: FollowUp, answer: FollowUpAnswer, *, actor: User | None, at: dt.datetime) -> None:
    report = PainDay(timezone.localdate(at), answer.pain, answer.nothing_hurts)
    worst = max((pain.score for pain in answer.pain), default=0) if report.assessed else None
    rules = current_referral_rules()
    referral = referral_after_answer(
        worst_pain=worst, recurred=bool(follow_up.recurrence), days_off=follow_up.days_off, rules=rules.rules
    )
    if referral.refer:
        concern_open(actor=actor, follow_up=follow_up, referral=referral, rules=rules, at=at)


def _fill(follow_up: FollowUp, answer: FollowUpAnswer) -> None:
    for name in ("wearing", "distance_km_week", "comfort", "days_off"):
        setattr(follow_up, name, getattr(answer, name))
    if answer.overuse is not None:
        score = overuse_score(answer.overuse)
        follow_up.overuse, follow_up.overuse_total = list(score.answers), score.total
        follow_up.overuse_substantial = score.substantial


def _judge(follow_up: FollowUp, answer: FollowUpAnswer, *, on: dt.date) -> None:
    fitting = follow_up.fitting
    history, report = history_of(fitting), PainDay(on, answer.pain, answer.nothing_hurts)
    # Only a complaint that was there at the fitting is judged by what was answered before.
    earlier = pain_days_before(fitting, on) if any(item.now for item in history) else []
    recurrence = find_recurrence(history, report, fitted_on=timezone.localdate(fitting.at), earlier=earlier)
    follow_up.recurrence, follow_up.recurrence_reasoning = recurrence.kind or "", recurrence.reasoning
    follow_up.free_of_complaints = free_of(history, report)
    follow_up.nothing_hurts = False if report.hurts else answer.nothing_hurts
