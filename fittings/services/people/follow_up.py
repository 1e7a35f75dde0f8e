"""Answering a follow-up."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from core import audit
from core.audit import Change
from core.domain.errors import DomainError, field_error, required_reason
from core.models import User
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.domain.fitting.referral import referral_after_answer
from fittings.domain.people.overuse import overuse_score
from fittings.domain.people.recurrence import PainDay, find_recurrence, free_of
from fittings.models import AnswerConcern, Fitting, FollowUp, PainReport, SupersededAnswer
from fittings.models.people.follow_up import UNSCHEDULED
from fittings.selectors.fitting.referral import current_referral_rules
from fittings.selectors.people.follow_ups import history_of, pain_day_of, pain_days_before
from fittings.services.fitting.checks import check_answer, check_record, require
from fittings.services.fitting.choice import REASON_MAX, fitting_lock
from fittings.services.people.concern import concern_open

SET_ASIDE = (
    "wearing",
    "distance_km_week",
    "comfort",
    "overuse",
    "overuse_total",
    "days_off",
    "nothing_hurts",
    "free_of_complaints",
    "recurrence",
    "comment",
    "saw_clinician",
)
"""What is set aside of answers that are amended."""


@transaction.atomic
def follow_up_answer(
    *, actor: User | None, follow_up: FollowUp, answer: FollowUpAnswer, at: dt.datetime | None = None
) -> FollowUp:
    """Enter the answers of a follow-up and say whether a complaint came back.

    An answer that the referral rules send to a clinician is put on the list of answers that need attention.

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
        raise DomainError("This follow-up was already answered.", code="already_answered", status=409)
    if locked.closed_at is not None:
        raise DomainError("This follow-up was closed: the shoes were returned.", code="closed", status=409)
    moment = at or timezone.now()
    if moment < fitting.at:
        raise DomainError("A follow-up can’t be answered before its fitting.", code="before_fitting", status=400)
    check_answer(answer)
    locked.answered_at, locked.answered_by = moment, actor
    before = audit.snapshot(follow_up)
    _write(locked, answer)
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


@transaction.atomic
def follow_up_amend(*, actor: User, follow_up: FollowUp, answer: FollowUpAnswer, reason: str) -> FollowUp:
    """Replace wrong answers. Those from before stay on record and count nowhere; the day of the answers stays too.

    Whether a complaint came back is judged again, also at the follow-ups answered later.

    Raises
    ------
    DomainError
        400 naming every bad field or without a reason, 404 for another store, 409 where nothing was answered yet.
    """
    locked = FollowUp.objects.select_for_update(of=("self",)).select_related("fitting__store").get(pk=follow_up.pk)
    store = locked.fitting.store
    require(actor, "fittings.follow_up:answer", store)
    if locked.answered_at is None:
        raise DomainError(
            "This follow-up was not answered yet, so there is nothing to amend.", code="not_answered", status=409
        )
    why = required_reason(reason, at_most=REASON_MAX)
    check_answer(answer)
    if locked.weeks == UNSCHEDULED:
        check_contact(answer)
    before, was = audit.snapshot(locked), _set_aside(locked, locked.answered_at, actor, why)
    PainReport.objects.filter(follow_up=locked).delete()
    _write(locked, answer)
    changes = [
        Change("fittings.answers.superseded", was, store=store),
        Change("fittings.follow_up.amended", locked, before, store=store),
        *_judge_later(locked),
    ]
    audit.record_many(changes, actor=actor)
    # An answer that is on the list already stays there until somebody closes it, whatever it says now.
    if not AnswerConcern.objects.filter(follow_up=locked).exists():
        _refer(locked, answer, actor=actor, at=timezone.now())
    return locked


@transaction.atomic
def contact_record(*, actor: User, fitting: Fitting, answer: FollowUpAnswer, at: dt.datetime | None = None) -> FollowUp:
    """Note that a customer called or came by outside the schedule. No follow-up is used up by it.

    Pain that is named counts as there from this day on. What is not named is not known: people call when something
    hurts, so a contact never says that a complaint is gone.

    Raises
    ------
    DomainError
        400 naming every bad field, 404 for another store, 409 where nothing is kept.
    """
    require(actor, "fittings.follow_up:answer", fitting.store)
    check_answer(answer)
    check_contact(answer)
    locked = fitting_lock(fitting, actor)
    moment = at or timezone.now()
    contact = FollowUp(fitting=locked, weeks=UNSCHEDULED, due_on=timezone.localdate(moment), choice=locked.choice)
    check_record(contact)
    contact.save()
    audit.record(actor=actor, action="fittings.contact.noted", subject=contact, store=fitting.store)
    return follow_up_answer(actor=actor, follow_up=contact, answer=answer, at=moment)


def check_contact(answer: FollowUpAnswer) -> None:
    """Refuse what a contact can't say."""
    if answer.nothing_hurts or any(pain.score == 0 for pain in answer.pain):
        message = "A contact says where it hurts, from 1 to 10. Leave out what does not hurt, or write it as a note."
        raise field_error("pain", message)


def _set_aside(follow_up: FollowUp, answered_at: dt.datetime, actor: User, reason: str) -> SupersededAnswer:
    pains = follow_up.pains.values("region", "side", "score")
    answers = {name: getattr(follow_up, name) for name in SET_ASIDE} | {"pain": list(pains)}
    was = SupersededAnswer(
        follow_up=follow_up,
        answers=answers,
        answered_at=answered_at,
        answered_by=follow_up.answered_by,
        superseded_at=timezone.now(),
        superseded_by=actor,
        reason=reason,
    )
    check_record(was)
    was.save()
    return was


def _write(follow_up: FollowUp, answer: FollowUpAnswer) -> None:
    _fill(follow_up, answer)
    _judge(follow_up, PainDay(_day_of(follow_up), answer.pain, answer.nothing_hurts))
    check_record(follow_up)
    follow_up.save()
    PainReport.objects.bulk_create(
        PainReport(follow_up=follow_up, region=pain.region, side=pain.side or "", score=pain.score)
        for pain in answer.pain
    )


def _day_of(follow_up: FollowUp) -> dt.date:
    return timezone.localdate(follow_up.answered_at)


def _fill(follow_up: FollowUp, answer: FollowUpAnswer) -> None:
    for name in ("wearing", "distance_km_week", "comfort", "days_off", "saw_clinician"):
        setattr(follow_up, name, getattr(answer, name))
    follow_up.comment = answer.comment.strip()
    score = None if answer.overuse is None else overuse_score(answer.overuse)
    follow_up.overuse = None if score is None else list(score.answers)
    follow_up.overuse_total = None if score is None else score.total
    follow_up.overuse_substantial = None if score is None else score.substantial


def _judge(follow_up: FollowUp, report: PainDay) -> None:
    fitting = follow_up.fitting
    history = history_of(fitting)
    # Only a complaint that was there at the fitting is judged by what was answered before.
    is_there = any(item.now for item in history)
    earlier = pain_days_before(fitting, report.on, but=follow_up.pk) if is_there else []
    recurrence = find_recurrence(history, report, fitted_on=timezone.localdate(fitting.at), earlier=earlier)
    follow_up.recurrence, follow_up.recurrence_reasoning = recurrence.kind or "", recurrence.reasoning
    follow_up.free_of_complaints = free_of(history, report)
    follow_up.nothing_hurts = False if report.hurts else report.nothing_hurts


def _judge_later(amended: FollowUp) -> list[Change]:
    """Judge again what was answered after an amended follow-up: whether it came back depends on when it had gone."""
    later = amended.fitting.follow_ups.answered().filter(answered_at__gt=amended.answered_at).order_by("pk")
    rows = list(later.select_for_update(of=("self",)).prefetch_related("pains"))
    before = audit.snapshots(FollowUp, [row.pk for row in rows])
    changed = []
    for row in rows:
        row.fitting = amended.fitting
        was = row.recurrence, row.recurrence_reasoning
        _judge(row, pain_day_of(row, _day_of(row)))
        if was != (row.recurrence, row.recurrence_reasoning):
            row.save(update_fields=["recurrence", "recurrence_reasoning"])
            changed.append(Change("fittings.follow_up.amended", row, before[row.pk], store=amended.fitting.store))
    return changed
