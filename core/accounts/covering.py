"""Entries in the audit trail for accounts whose last one covers less of what lets somebody in than entries do today.

After an upgrade that adds to it, every account gets one: without, a token that somebody inserts would not be noticed
before the account is changed the next time.
"""

from __future__ import annotations

from knox.models import AuthToken

from core import audit
from core.audit.verification import outdated
from core.models import TokenNote, User
from core.standard import register_installer


def accounts_cover() -> None:
    """Record the accounts that the trail covers only in part, except those that differ from what it says of them."""
    tokens = AuthToken.objects.filter(note__isnull=True)
    TokenNote.objects.bulk_create([TokenNote(token=token) for token in tokens])
    users = User.objects.filter(pk__in=outdated(audit.kind_of(User))).order_by("pk")
    audit.record_many([audit.Change("core.user.covered", user, audit.snapshot(user)) for user in users], actor=None)


register_installer(accounts_cover)
