"""Writing the security log, and deleting it after the retention period.

Services write an event in their own transaction, so that what was undone leaves none; the account's owner is informed
by e-mail once it is committed.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import F
from django.utils import timezone

from core.accounts.holder_mail import inform
from core.gate.context import current_origin
from core.models import Membership, SecurityEvent, SecurityKind, User

LOCK_MAIL_EVERY = dt.timedelta(days=1)
ADDRESSES_AN_HOUR = 20
FURTHER = "from further network addresses"
COUNT_LOCK = 7_301_455_012


def note(
    kind: SecurityKind, *, user: User | None, actor: User | None = None, details: str = "", also_to: str = ""
) -> SecurityEvent:
    """Write an event, and inform the owner of the account where it is one that they must know of.

    Parameters
    ----------
    user : whose account it is about; None where the given name is no account's
    actor : who did it; None for somebody who is not signed in, and for commands
    details : words of the program and names of roles and stores; never what somebody typed
    also_to : a second address to inform, where the account's own has just changed
    """
    event = _write(kind, user, actor, details)
    if user is not None:
        inform(event, user, also_to=also_to)
    return event


def note_role(kind: SecurityKind, membership: Membership, *, actor: User | None) -> SecurityEvent:
    """Write that a role was given or withdrawn."""
    _, _, role = str(membership).partition(": ")
    return note(kind, user=membership.user, actor=actor, details=role)


def note_lock(username: str | None, *, details: str) -> SecurityEvent:
    """Write that sign-in to an account is locked; its owner is informed once a day at most.

    Whether there is such an account changes nothing in how long this takes.
    """
    user = User.objects.filter(username=username).first()
    since = timezone.now() - LOCK_MAIL_EVERY
    was_locked = SecurityEvent.objects.filter(kind=SecurityKind.LOCKED, user=user, at__gt=since).exists()
    event = _write(SecurityKind.LOCKED, user, None, details)
    if user is not None and not was_locked:
        inform(event, user)
    return event


def _write(kind: SecurityKind, user: User | None, actor: User | None, details: str) -> SecurityEvent:
    event = SecurityEvent(
        at=timezone.now(),
        kind=kind,
        user=user,
        actor=actor,
        address=_cut("address", current_origin().where),
        details=_cut("details", details),
    )
    if user is None:
        return _counted(event)
    event.save(force_insert=True)
    return event


@transaction.atomic
def _counted(event: SecurityEvent) -> SecurityEvent:
    """Write an event about no account, or count it with the one of the same network address in the same hour.

    Whoever makes up names, and does so from many addresses, adds `ADDRESSES_AN_HOUR` rows an hour and one for the rest,
    of each kind, and can't fill the log.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [COUNT_LOCK])
    hour = event.at.replace(minute=0, second=0, microsecond=0)
    rows = SecurityEvent.objects.filter(kind=event.kind, user=None, at__gte=hour).order_by("pk")
    known = {(row.address, row.details): row for row in rows}
    if (event.address, event.details) not in known and len(known) >= ADDRESSES_AN_HOUR:
        event.address, event.details = "", FURTHER
    before = known.get((event.address, event.details))
    if before is None:
        event.save(force_insert=True)
        return event
    SecurityEvent.objects.filter(pk=before.pk).update(times=F("times") + 1)
    return before


def _cut(column: str, text: str) -> str:
    """Cut a text to what its column holds."""
    field: Any = SecurityEvent._meta.get_field(column)
    return text[: field.max_length]


def events_expire(*, at: dt.datetime | None = None) -> int:
    """Delete the events that are older than the retention period. Returns how many."""
    end = (at or timezone.now()) - dt.timedelta(days=settings.SECURITY_LOG_RETENTION_DAYS)
    count, _ = SecurityEvent.objects.filter(at__lt=end).delete()
    return count
