"""Who acted, by the names that pages have of people. The trail itself has sign-in names, which never change."""

from __future__ import annotations

from django.db.models import QuerySet

from core.models import AuditEntry, User


def with_people(entries: QuerySet[AuditEntry]) -> QuerySet[AuditEntry]:
    """Read along with the entries what `who` needs."""
    return entries.select_related("actor").annotate(has_namesake=User.namesakes("actor"))


def who(entry: AuditEntry) -> str:
    """Name who acted, of an entry read by `with_people`. What the system does has its own word."""
    if entry.actor is None:
        word: str = entry.content["actor_name"]
        return word
    return entry.actor.name_in_full(has_namesake=getattr(entry, "has_namesake", False))
