"""The audit trail: append-only, hash-chained entries, each with the record as it was after the change.

``hash = sha256(previous hash ‖ payload)`` with the payload as canonical JSON (sorted keys, no spaces, UTF-8).
Standards followed: ISO/IEC 17025 clause 7.5 and 21 CFR 11.10(e) (both from memory).
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.db import connection, models

from core.audit.digests import new_salts, salts_remove, salts_replace
from core.audit.records import kind_of, plain, whole_records
from core.database.array_rows import Seal
from core.database.copy import copy_rows
from core.database.json_text import JsonText, object_text
from core.gate.context import Origin, current_origin
from core.models import AuditEntry, DigestSalt, Store, User

GENESIS = bytes(32)
# The columns that are written here; the trigger adds the number and the hashes.
ENTRY_COLUMNS = ("at", "actor_id", "action", "object_type", "object_id", "payload")

# The lock is the one of the trigger that chains the entries: with the time taken under it, times ascend like numbers.
_CLOCK = """
WITH held AS MATERIALIZED (SELECT pg_advisory_xact_lock(7301455001)) SELECT clock_timestamp() FROM held
"""

_sentences: dict[str, str] = {}


@dataclass(frozen=True, slots=True)
class Named:
    """A reference to a record, for changes so numerous that the records themselves would not fit into memory."""

    model: type[models.Model]
    pk: Any
    text: str

    @classmethod
    def of(cls, subject: models.Model) -> Named:
        return cls(type(subject), subject.pk, str(subject))


@dataclass(frozen=True, slots=True)
class Change:
    """One entry to write. `before` is the snapshot taken before the change, None for a new record.

    `seals` and `after` avoid reading back what was just inserted: `seals` of the rows by relation, `after` as a
    function that returns the record's JSON text (`core.audit.states`).
    """

    action: str
    subject: models.Model | Named
    before: dict[str, Any] | None = None
    reason: str = ""
    store: Store | None = None
    seals: Mapping[str, Seal] = field(default_factory=dict)
    after: Callable[[], str] | None = None


def register_action(action: str, sentence: str) -> None:
    """Register an action (`app.noun.past_verb`) with its sentence, in which `{subject}` is the record."""
    if _sentences.get(action, sentence) != sentence:
        raise ImproperlyConfigured(f"The audit action {action!r} is registered twice.")
    _sentences[action] = sentence


def actions() -> dict[str, str]:
    return dict(_sentences)


def _changed(before: dict[str, Any] | None, after: dict[str, Any] | None) -> dict[str, Any] | None:
    """Return the earlier values that changed: all of them for a removal, None for a new record."""
    if before is None or after is None:
        return before
    return {key: value for key, value in before.items() if after.get(key) != value}


def _named(change: Change) -> Named:
    return change.subject if isinstance(change.subject, Named) else Named.of(change.subject)


@dataclass(frozen=True, slots=True)
class _States:
    """Records as they are now, and the digests of what the trail must not hold of them, each by model and pk."""

    columns: dict[type[models.Model], dict[Any, dict[str, Any]]] = field(default_factory=dict)
    digests: dict[type[models.Model], dict[Any, tuple[DigestSalt, str]]] = field(default_factory=dict)
    gone: dict[type[models.Model], set[Any]] = field(default_factory=dict)

    def of(self, subject: Named) -> tuple[dict[str, Any] | None, str | None]:
        columns = self.columns.get(subject.model, {}).get(subject.pk)
        _, digest = self.digests.get(subject.model, {}).get(subject.pk, (None, None))
        return columns, digest

    def save_salts(self) -> None:
        """Save the salts of the digests, under the lock of the trail: two who record the same never wait in a ring."""
        if salts := [salt for made in self.digests.values() for salt, _ in made.values()]:
            salts_replace(salts)
        for model, pks in self.gone.items():
            salts_remove(kind_of(model), pks)


def _row(
    change: Change, subject: Named, states: _States, *, actor: User | None, at: dt.datetime, origin: Origin
) -> tuple[Any, ...]:
    """Return the columns of an entry; the record may come as JSON text already."""
    state, digest = states.of(subject)
    label, pk = subject.model._meta.label_lower, str(subject.pk)
    content: dict[str, Any] = {
        "action": change.action,
        "actor": actor.pk if actor else None,
        "actor_name": _name_of(actor),
        "after": JsonText(change.after()) if change.after else state,
        "at": plain(at),
        "before": _changed(change.before, state),
        "object": {"type": label, "id": pk, "text": subject.text},
        "reason": change.reason,
        "source": {"kind": origin.kind, "where": origin.where, "request": origin.request_id},
        "store": change.store.slug if change.store else None,
    }
    if digest is not None:
        content["digest"] = digest
    return at, content["actor"], change.action, label, pk, object_text(content)


def _name_of(actor: User | None) -> str:
    return actor.username if actor else "system"


def record_many(changes: Sequence[Change], *, actor: User | None) -> None:
    """Append entries, in order, in the caller's transaction. Their time is that of the database's clock.

    The subjects are read back from the database, so that the entry has what was actually stored, except those that
    come with their own `after`. A subject that was deleted gets an entry whose `after` is null.
    """
    # Before the COPY, because the name of a subject may need a query.
    subjects = [_named(change) for change in changes]
    by_model: dict[type[models.Model], dict[Any, Mapping[str, Seal]]] = defaultdict(dict)
    for change, subject in zip(changes, subjects, strict=True):
        if change.action not in _sentences:
            raise ImproperlyConfigured(f"Unregistered audit action {change.action!r}.")
        if change.after is None:
            by_model[subject.model][subject.pk] = change.seals
    states = _read(by_model)
    if changes:
        at, origin = _clock(), current_origin()
        states.save_salts()
        # Written one by one, while the database chains those before.
        rows = (
            _row(change, subject, states, actor=actor, at=at, origin=origin)
            for change, subject in zip(changes, subjects, strict=True)
        )
        copy_rows(AuditEntry, ENTRY_COLUMNS, rows)


def _read(by_model: Mapping[type[models.Model], Mapping[Any, Mapping[str, Seal]]]) -> _States:
    """Read records back, with new digests of what the trail must not hold of them."""
    states = _States()
    for model, seals in by_model.items():
        kind = kind_of(model)
        there, private = whole_records(kind, [*seals], seals=seals)
        states.columns[model] = there
        if kind.has_digest:
            states.digests[model] = new_salts(kind, private) if there else {}
            if gone := seals.keys() - there.keys():
                states.gone[model] = gone
    return states


def _clock() -> dt.datetime:
    """Wait until no other transaction writes to the trail, and return the time by the database's clock."""
    with connection.cursor() as cursor:
        cursor.execute(_CLOCK)
        at: dt.datetime = cursor.fetchone()[0]
    return at


def record(
    *,
    actor: User | None,
    action: str,
    subject: models.Model,
    before: dict[str, Any] | None = None,
    reason: str = "",
    store: Store | None = None,
) -> None:
    """Append one entry on a record, in the caller's transaction.

    Parameters
    ----------
    actor : who did it; None for the system itself
    action : a registered action
    subject : the record after saving, or after deletion with its `pk` still set
    before : `snapshot(subject)` taken before the change
    reason : why, in the actor's words
    """
    record_many([Change(action, subject, before, reason, store)], actor=actor)


def sentence(entry: AuditEntry) -> str:
    """Return an entry as a sentence."""
    words = _sentences.get(entry.action, "{subject}: " + entry.action)
    return words.format(subject=entry.content["object"]["text"])


def entries_of(subject: models.Model) -> models.QuerySet[AuditEntry]:
    """Return the entries on one record, newest first."""
    return AuditEntry.objects.filter(object_type=subject._meta.label_lower, object_id=str(subject.pk)).select_related(
        "actor"
    )


def chain_hash(previous: bytes, payload: str) -> bytes:
    return hashlib.sha256(previous + payload.encode()).digest()
