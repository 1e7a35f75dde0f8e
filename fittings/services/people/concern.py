"""Looking after worrying answers of follow-ups: put on the list, taken over, closed with what was done."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.domain.errors import DomainError, field_error
from core.domain.quoting import quoted
from core.models import User
from fittings.domain.fitting.referral import Referral
from fittings.domain.fitting.referral_rules import referral_from_data
from fittings.domain.fitting.stop_signs import read_stop_signs
from fittings.models import AnswerConcern, ConcernOutcome, FollowUp
from fittings.selectors.fitting.referral import CurrentReferralRules
from fittings.services.fitting.checks import check_record, require

WRITE = "fittings.concern:write"
NOTE_MAX = 1000


def concern_open(
    *, actor: User | None, follow_up: FollowUp, referral: Referral, rules: CurrentReferralRules, at: dt.datetime
) -> AnswerConcern:
    """Put a worrying answer on the list. It is for the one who took the call, else for the fitter of the fitting."""
    concern = AnswerConcern(
        follow_up=follow_up,
        rules_id=rules.pk,
        advice=list(referral.advice),
        opened_at=at,
        due_on=timezone.localdate(at) + dt.timedelta(days=rules.rules.look_after_days),
        owner=actor or follow_up.fitting.fitter,
    )
    check_record(concern)
    concern.save()
    store = follow_up.fitting.store
    audit.record(actor=actor, action="fittings.concern.opened", subject=concern, store=store)
    return concern


@transaction.atomic
def concern_signs_answer(*, actor: User | None, concern: AnswerConcern, signs: Iterable[object]) -> AnswerConcern:
    """Record the stop signs that the customer ticked; an empty list is “none of these”. Answered twice is once.

    A sign makes the answer due today.

    Raises
    ------
    DomainError
        400 for a sign that is not of the rules, 404 for another store or one that is gone, 409 once it is closed.
    """
    locked = _locked(concern, actor)
    if locked.stop_signs_asked_at is not None:
        return locked
    _check_open(locked)
    try:
        codes = read_stop_signs(signs, referral_from_data(locked.rules.data).signs)
    except (TypeError, ValueError) as problem:
        raise field_error("stop_signs", str(problem)) from problem
    before, now = audit.snapshot(locked), timezone.now()
    locked.stop_signs, locked.stop_signs_asked_at = list(codes), now
    if codes:
        locked.due_on = min(locked.due_on, timezone.localdate(now))
    return _saved(locked, "fittings.concern.signs_answered", before, actor)


@transaction.atomic
def concern_take_over(*, actor: User, concern: AnswerConcern) -> AnswerConcern:
    """Become the one who looks after an answer.

    Raises
    ------
    DomainError
        404 for another store or one that is gone, 409 once it is closed.
    """
    locked = _locked(concern, actor)
    _check_open(locked)
    if locked.owner_id == actor.pk:
        return locked
    before = audit.snapshot(locked)
    locked.owner = actor
    return _saved(locked, "fittings.concern.taken_over", before, actor)


@transaction.atomic
def concern_close(
    *, actor: User, concern: AnswerConcern, outcome: str, note: str, at: dt.datetime | None = None
) -> AnswerConcern:
    """Close an answer with how it ended (`ConcernOutcome`) and what was done.

    Raises
    ------
    DomainError
        400 naming the bad field, 404 for another store or one that is gone, 409 where it is already closed.
    """
    locked = _locked(concern, actor)
    _check_open(locked)
    if outcome not in ConcernOutcome.values:
        raise field_error(
            "outcome", f"outcome must be one of {', '.join(ConcernOutcome.values)}, got {quoted(outcome)}"
        )
    note = note.strip()
    if not note or len(note) > NOTE_MAX or "\x00" in note:
        raise field_error("note", f"Say what was done, in at most {NOTE_MAX} characters.")
    before = audit.snapshot(locked)
    locked.closed_at, locked.closed_by = at or timezone.now(), actor
    locked.outcome, locked.note = outcome, note
    return _saved(locked, "fittings.concern.closed", before, actor)


def _locked(concern: AnswerConcern, actor: User | None) -> AnswerConcern:
    rows = AnswerConcern.objects.select_for_update(of=("self",)).select_related("follow_up__fitting__store", "rules")
    locked = rows.filter(pk=concern.pk).first()
    if locked is None:
        raise DomainError("This answer was removed with its customer.", code="not_found", status=404)
    if actor is not None:
        require(actor, WRITE, locked.follow_up.fitting.store)
    return locked


def _check_open(concern: AnswerConcern) -> None:
    if concern.closed_at is not None:
        who = concern.closed_by.display_name if concern.closed_by else "somebody"
        message = f"{who} closed this answer on {timezone.localdate(concern.closed_at)}; nothing was changed."
        raise DomainError(message, code="already_closed", status=409)


def _saved(concern: AnswerConcern, action: str, before: dict[str, Any], actor: User | None) -> AnswerConcern:
    check_record(concern)
    concern.save()
    audit.record(actor=actor, action=action, subject=concern, before=before, store=concern.follow_up.fitting.store)
    return concern
