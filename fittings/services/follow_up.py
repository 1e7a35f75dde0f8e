"""Answering a follow-up, and reminding of one that is due."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from django.core.mail import send_mail
from django.db import transaction
from django.utils import timezone

from core import audit
from core.errors import DomainError
from core.models import User
from fittings.domain.overuse import overuse_score
from fittings.domain.recurrence import PainDay, find_recurrence, free_of
from fittings.intake import FollowUpAnswer
from fittings.links import link_for
from fittings.models import FollowUp, PainReport
from fittings.selectors.follow_ups import history_of, pain_days_before
from fittings.services.checks import check_answer, check_record, require

REMIND_WITHIN_DAYS = 28
"""A reminder goes out up to this many days after a follow-up was due; later the next one is near."""


@transaction.atomic
def follow_up_answer(
    *, actor: User | None, follow_up: FollowUp, answer: FollowUpAnswer, at: dt.datetime | None = None
) -> FollowUp:
    """Enter the answers of a follow-up and say whether a complaint came back.

    Parameters
    ----------
    actor : the member of staff who enters them; None for the customer through the signed link
    at : when they were given; now where left out

    Raises
    ------
    DomainError
        400 naming every bad field, 404 for another store, 409 when it was answered before.
    """
    locked = FollowUp.objects.select_for_update(of=("self",)).select_related("fitting__store").get(pk=follow_up.pk)
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
        PainReport(follow_up=locked, region=pain.region, side=pain.side or "", score=pain.score)
        for pain in answer.pain or ()
    )
    audit.record(actor=actor, action="fittings.follow_up.answered", subject=locked, before=before, store=fitting.store)
    return locked


def _fill(follow_up: FollowUp, answer: FollowUpAnswer) -> None:
    for name in ("wearing", "distance_km_week", "comfort", "days_off"):
        setattr(follow_up, name, getattr(answer, name))
    if answer.overuse is not None:
        score = overuse_score(answer.overuse)
        follow_up.overuse, follow_up.overuse_total = list(score.answers), score.total
        follow_up.overuse_substantial = score.substantial


def _judge(follow_up: FollowUp, answer: FollowUpAnswer, *, on: dt.date) -> None:
    fitting = follow_up.fitting
    history, report = history_of(fitting), PainDay(on, answer.pain or ())
    # Only a complaint that was there at the fitting is judged by what was answered before.
    earlier = pain_days_before(fitting, on) if any(item.now for item in history) else []
    found = find_recurrence(history, report, fitted_on=timezone.localdate(fitting.at), earlier=earlier)
    follow_up.recurrence, follow_up.recurrence_reasoning = found.kind or "", found.reasoning
    follow_up.free_of_complaints = None if answer.pain is None else free_of(history, report)


def follow_up_reminders_send(*, on: dt.date | None = None, told: Callable[[FollowUp], None] | None = None) -> int:
    """E-mail the customers whose follow-up is due and who gave an address; each follow-up once.

    Each one is sent in a transaction of its own under a lock that others pass by, so that running this twice, or in
    two places at once, reminds nobody twice. When the mail server refuses one, that one stays unsent and the error
    is raised.

    Parameters
    ----------
    on : the day; today where left out
    told : called with each follow-up sent

    Returns
    -------
    int
        How many were sent.
    """
    today = on or timezone.localdate()
    sent, passed = 0, 0
    while True:
        with transaction.atomic():
            follow_up = _next_unsent(today, passed)
            if follow_up is None:
                return sent
            passed = follow_up.pk
            _remind(follow_up)
        sent += 1
        if told is not None:
            told(follow_up)


def _next_unsent(today: dt.date, after_pk: int) -> FollowUp | None:
    """Lock and return the next follow-up to remind of. Those of people without an address or consent are not."""
    return (
        FollowUp.objects.select_for_update(skip_locked=True, of=("self",))
        .select_related("fitting__store", "fitting__customer")
        .due(today)
        .unsent()
        .filter(
            due_on__gt=today - dt.timedelta(days=REMIND_WITHIN_DAYS),
            fitting__kept=True,
            fitting__customer__email__gt="",
            fitting__customer__consents__isnull=False,
            pk__gt=after_pk,
        )
        .order_by("pk")
        .first()
    )


def _remind(follow_up: FollowUp) -> None:
    fitting = follow_up.fitting
    send_mail(
        subject=f"How are your shoes? A short question from {fitting.store.name}",
        message=(
            f"Some weeks ago you were fitted for shoes at {fitting.store.name}. How is it going?\n\n"
            f"Five short questions, less than a minute:\n{link_for(fitting)}\n\n"
            "The link is meant for you alone and works for a limited time.\n"
            "This is no medical advice. For pain that lasts, comes back or wakes you, see a licensed clinician.\n"
        ),
        from_email=None,
        recipient_list=[fitting.customer.email] if fitting.customer else [],
    )
    follow_up.sent_at = timezone.now()
    follow_up.save(update_fields=["sent_at"])
