"""Rigs: set up, stopped and cleared."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from core import audit
from core.database.validation import check
from core.domain.errors import DomainError, required_reason
from core.gate.two_people import need_another
from core.models import User
from labtests.models import CheckAlarm, Rig
from labtests.services.rights import needs
from labtests.services.studies.check_shoes import alarms_clear, rig_judge_again


@needs("labtests.rig:write")
@transaction.atomic
def rig_create(*, actor: User | None, code: str, name: str = "") -> Rig:
    rig = Rig(code=code, name=name)
    check(rig)
    rig.save()
    audit.record(actor=actor, action="labtests.rig.created", subject=rig)
    return rig


@needs("labtests.rig:write")
@transaction.atomic
@needs("labtests.rig:write")
@transaction.atomic
def rig_stop(
    *, actor: User, rig: Rig, reason: str, since: dt.datetime | None = None, at: dt.datetime | None = None
) -> Rig:
    """Stop publishing what was measured on a rig until a reviewer clears it.

    Parameters
    ----------
    since : tests made after this time are in doubt; None where nobody knows, which puts all of them in doubt
    """
    moment = at or timezone.now()
    if since is not None and since > moment:
        message = f"The time {since.isoformat()} is in the future; give an earlier one, or none if nobody knows."
        raise DomainError(message, code="bad_time", fields={"since": [message]})
    return _switch(rig, actor=actor, is_stopped=True, reason=reason, since=since)


@needs("labtests.rig:clear")
@transaction.atomic
def rig_clear(*, actor: User, rig: Rig, reason: str, at: dt.datetime | None = None) -> Rig:
    """Let a rig's tests be published again. The points that stopped it leave the limits of its check shoe's chart.

    Returns
    -------
    Rig
        Stopped again where the chart without those points is out of control still; the reason says by what.
    """
    need_another(
        "labtests.rig:clear",
        actor,
        involved=CheckAlarm.objects.open().filter(duty__rig=rig).values_list("test__operator", flat=True),
        message=f"You operated a check that stopped rig {rig.code}. Somebody else has to clear it.",
    )
    rig = _switch(rig, actor=actor, is_stopped=False, reason=reason)
    cleared = alarms_clear(rig, actor=actor, reason=reason.strip(), at=at or timezone.now())
    audit.record_many(cleared, actor=actor)
    audit.record_many(rig_judge_again(rig), actor=None)
    rig.refresh_from_db()
    return rig


def _switch(rig: Rig, *, actor: User, is_stopped: bool, reason: str, since: dt.datetime | None = None) -> Rig:
    required_reason(reason)
    rig = Rig.objects.select_for_update().get(pk=rig.pk)
    if rig.is_stopped == is_stopped:
        state = "already stopped" if is_stopped else "not stopped"
        raise DomainError(f"Rig {rig.code} is {state}.", code="no_change", status=409)
    before = audit.snapshot(rig)
    rig.is_stopped = is_stopped
    rig.stopped_because = reason.strip() if is_stopped else ""
    rig.stopped_since = since
    check(rig)
    rig.save()
    action = "labtests.rig.stopped" if is_stopped else "labtests.rig.cleared"
    audit.record(actor=actor, action=action, subject=rig, before=before, reason=reason.strip())
    return rig
