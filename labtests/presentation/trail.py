"""Entries of the audit trail in words: a line of a list, a row of the export, and what an entry changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from core.audit import sentence
from core.database.json_text import canonical
from core.models import AuditEntry
from core.web import display


@dataclass(frozen=True, slots=True)
class TrailLine:
    """One entry of the trail in a list."""

    id: int
    at: str
    actor: str
    words: str
    reason: str
    origin: str
    record: str
    number: str


def trail_line(entry: AuditEntry) -> TrailLine:
    content = entry.content
    origin = content["source"]
    return TrailLine(
        id=entry.pk,
        at=display.moment(entry.at),
        actor=content["actor_name"],
        words=sentence(entry),
        reason=content["reason"],
        origin=f"{origin['kind']} {origin['where']}".strip(),
        record=entry.object_type,
        number=entry.object_id,
    )


TRAIL_COLUMNS = (
    *("entry", "at", "who", "action", "what", "record", "number", "reason", "from", "address", "request"),
    *("before", "previous_hash", "hash", "content"),
)


def trail_row(entry: AuditEntry) -> tuple[object, ...]:
    """The values of `TRAIL_COLUMNS` for one entry."""
    content, origin = entry.content, entry.content["source"]
    return (
        entry.pk,
        content["at"],
        content["actor_name"],
        entry.action,
        sentence(entry),
        entry.object_type,
        entry.object_id,
        content["reason"],
        *(origin[name] for name in ("kind", "where", "request")),
        "" if content["before"] is None else canonical(content["before"]),
        bytes(entry.previous_hash).hex(),
        bytes(entry.hash).hex(),
        entry.payload,
    )


MOST_SHOWN = 400


def differences(entry: AuditEntry) -> list[tuple[str, str, str]]:
    """What an entry changed: the column, before, after; of a new record every column."""
    before, after = entry.content["before"], entry.content["after"] or {}
    names = sorted(after) if before is None else sorted(before)
    return [(name, _shown((before or {}).get(name)), _shown(after.get(name))) for name in names]


def _shown(value: Any) -> str:
    if value is None:
        return display.MISSING
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return f"{len(value)} rows"
    text = str(value)
    return text if len(text) <= MOST_SHOWN else f"{text[:MOST_SHOWN]}…"
