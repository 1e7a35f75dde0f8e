"""What an entry says of time and person, against the entry before it, the clock, and the record it describes."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from typing import Any

from django.db import connection
from django.utils import timezone

from core.audit.records import RecordKind, record_kinds
from core.models import AuditEntry, User

TOLERANCE = dt.timedelta(minutes=5)
"""How far a clock may have been set back, and a decision may lie before its entry. The trigger has the same limit."""


def database_clock() -> dt.datetime:
    with connection.cursor() as cursor:
        cursor.execute("SELECT clock_timestamp()")
        now: dt.datetime = cursor.fetchone()[0]
    return now


class EntryChecks:
    """Checks entries one after the other, in their order."""

    def __init__(self) -> None:
        self._now = database_clock()
        self._latest: dt.datetime | None = None
        self._kinds = {kind.model._meta.label_lower: kind for kind in record_kinds()}
        accounts = list(User.objects.values_list("pk", "username", "is_demo"))
        self._names: dict[int | None, str] = {pk: name for pk, name, _ in accounts} | {None: "system"}
        self._with_digest: set[tuple[str, str]] = set()
        self._demo = {pk for pk, _, is_demo in accounts if is_demo}

    def problems(self, entry: AuditEntry, content: Mapping[str, Any]) -> Iterator[str]:
        yield from self._time_problems(entry.at)
        name = self._names.get(content["actor"])
        if name != content["actor_name"]:
            yield f"it names {content['actor_name']!r}, but the account of its actor is {name!r}"
        yield from self._digest_problems(entry, content)
        kind = self._kinds.get(entry.object_type)
        if kind is not None and kind.decisions and isinstance(content["after"], dict):
            yield from self._decision_problems(kind, entry, content)

    def _time_problems(self, at: dt.datetime) -> Iterator[str]:
        if at > self._now:
            yield f"its time ({_words(at)}) is in the future"
        elif self._latest is not None and at < self._latest - TOLERANCE:
            yield f"its time ({_words(at)}) is before that of the entry before it ({_words(self._latest)})"
        self._latest = at

    def _digest_problems(self, entry: AuditEntry, content: Mapping[str, Any]) -> Iterator[str]:
        """Find an entry that leaves out the digest which the entry before it on the same record has."""
        record = (entry.object_type, entry.object_id)
        if "digest" in content:
            self._with_digest.add(record)
        elif content["after"] is None:
            self._with_digest.discard(record)
        elif record in self._with_digest:
            yield "it has no digest, but an earlier entry on the same record has"

    def _decision_problems(self, kind: RecordKind, entry: AuditEntry, content: Mapping[str, Any]) -> Iterator[str]:
        after, before = content["after"], content["before"]
        for stem in kind.decisions:
            who, when = f"{stem}_by_id", f"{stem}_at"
            is_new = before is None or who in before or when in before
            if not is_new or not after.get(when):
                continue
            if after[who] != content["actor"]:
                yield f"{who} in it is {after[who]}, but its actor is {content['actor']}"
            # Demo data are loaded with the days on which they are said to have happened.
            decided = dt.datetime.fromisoformat(after[when])
            if entry.actor_id not in self._demo and abs(entry.at - decided) > TOLERANCE:
                yield f"{when} in it is {_words(decided)}, but the entry was made at {_words(entry.at)}"


def _words(at: dt.datetime) -> str:
    return f"{timezone.localtime(at):%Y-%m-%d %H:%M:%S}"
