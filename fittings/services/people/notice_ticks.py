"""Ticking off the customers that a store informed of an incident."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from catalogue.models import IncidentNotice
from core import audit
from core.domain.errors import DomainError
from core.models import User
from fittings.models import Choice, NoticeTick
from fittings.services.fitting.checks import check_record, require

INFORM = "fittings.notice:inform"


@transaction.atomic
def notice_tick(*, actor: User, notice: IncidentNotice, choice: int, is_informed: bool) -> NoticeTick:
    """Note that the customer of a choice was informed of an incident, or that this was ticked by mistake.

    Saying the same twice changes nothing: the first who informed the customer stays on record.

    Raises
    ------
    DomainError
        404 where the notice does not concern the choice, or the choice is of another store.
    """
    locked = _concerned(actor, notice, choice)
    require(actor, INFORM, locked.fitting.store)
    tick = NoticeTick.objects.filter(choice=locked, notice=notice).first()
    if tick is not None and tick.is_informed == is_informed:
        return tick
    before = audit.snapshot(tick) if tick else None
    tick = tick or NoticeTick(choice=locked, notice=notice)
    tick.is_informed, tick.at, tick.by = is_informed, timezone.now(), actor
    check_record(tick)
    tick.save()
    action = "fittings.notice.informed" if is_informed else "fittings.notice.reopened"
    audit.record(actor=actor, action=action, subject=tick, before=before, store=locked.fitting.store)
    return tick


def _concerned(actor: User, notice: IncidentNotice, choice: int) -> Choice:
    rows = Choice.objects.select_for_update(of=("self",)).select_related("fitting__store")
    rows = rows.filter(fitting__store_id__in=actor.store_ids(), fitting__kept=True)
    locked = rows.filter(pk=choice, score_card__in=notice.cards.values("score_card")).first()
    if locked is None:
        raise DomainError("The notice does not affect this fitting at your store.", code="not_found", status=404)
    return locked
