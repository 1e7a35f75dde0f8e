"""The audit trail: append-only entries, hash-chained, each holding the record as it was left.

``hash = sha256(previous hash ‖ payload)`` with the payload as canonical JSON (sorted keys, no spaces, UTF-8).
Yardsticks: ISO/IEC 17025 clause 7.5 and 21 CFR 11.10(e) (both from memory).
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.db import connection, models
from django.utils import timezone

from core.array_rows import Seal, seal_of
from core.context import current_origin
from core.models import AuditEntry, Store, User

GENESIS = bytes(32)

_sentences: dict[str, str] = {}
_records: dict[str, RecordKind] = {}


@dataclass(frozen=True, slots=True)
class RecordKind:
    """A model whose rows the trail answers for, with the rows of other tables that belong to one record."""

    model: type[models.Model]
    related: tuple[str, ...] = ()
    sealed: tuple[str, ...] = ()
    exclude: frozenset[str] = field(default_factory=frozenset)
    verified: bool = True


@dataclass(frozen=True, slots=True)
class Change:
    """One entry to be written. `before` is the snapshot taken before the change, None for a new record.

    `seals`: of rows that were inserted just now, by relation, so that they need not be read back.
    """

    action: str
    subject: models.Model
    before: dict[str, Any] | None = None
    reason: str = ""
    store: Store | None = None
    seals: Mapping[str, Seal] = field(default_factory=dict)


def register_action(action: str, sentence: str) -> None:
    """Register an action (`app.noun.past_verb`) with the words that tell it; `{subject}` names the record."""
    if _sentences.get(action, sentence) != sentence:
        raise ImproperlyConfigured(f"The audit action {action!r} is registered twice.")
    _sentences[action] = sentence


def register_record(
    model: type[models.Model],
    *,
    related: Sequence[str] = (),
    sealed: Sequence[str] = (),
    exclude: Iterable[str] = (),
    verified: bool = True,
) -> None:
    """Register a model whose rows are checked against their last entry.

    Parameters
    ----------
    related : reverse relations whose rows are part of the record (`"curves"`)
    sealed : reverse relations with so many rows that the record holds their number and digest instead of them; a row
        that is sealed in one record is left out of the others that it is related to
    exclude : columns that change without being a change of the record, or that the trail must never hold
    verified : False for a model that is only kept without its excluded columns, and not checked
    """
    _records[model._meta.label_lower] = RecordKind(model, tuple(related), tuple(sealed), frozenset(exclude), verified)


def actions() -> dict[str, str]:
    return dict(_sentences)


def record_kinds() -> list[RecordKind]:
    return [kind for kind in _records.values() if kind.verified]


def canonical(content: Any) -> str:
    """Return the one JSON text of a content: sorted keys, no spaces, no NaN."""
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def _plain(value: Any) -> Any:
    """Turn a column's value into JSON that is the same whenever it is read back."""
    match value:
        case None | bool() | int() | str():
            return value
        case float():
            return value if value == value and abs(value) != float("inf") else str(value)
        case dt.datetime():
            return value.astimezone(dt.UTC).isoformat(timespec="microseconds")
        case dt.date() | dt.time():
            return value.isoformat()
        case Decimal() | uuid.UUID() | dt.timedelta():
            return str(value)
        case bytes() | memoryview():
            return "sha256:" + hashlib.sha256(value).hexdigest()
        case list() | tuple():
            return [_plain(item) for item in value]
        case dict():
            return {str(key): _plain(item) for key, item in value.items()}
    raise TypeError(f"The audit trail cannot keep a {type(value).__name__}.")


def _columns(model: type[models.Model], exclude: frozenset[str]) -> list[str]:
    return [
        column.attname
        for column in model._meta.concrete_fields
        if not column.generated and column.attname not in exclude
    ]


def _related_rows(kind: RecordKind, name: str, pks: Sequence[Any]) -> dict[Any, list[dict[str, Any]]]:
    relation: Any = kind.model._meta.get_field(name)
    link = relation.field.attname
    rows: dict[Any, list[dict[str, Any]]] = defaultdict(list)
    manager = relation.related_model._base_manager
    seals = _links_of_seals(relation.related_model)
    found = manager.filter(**{f"{link}__in": pks}, **{f"{seal}__isnull": True for seal in seals}).order_by("pk")
    for row in found.values(*_columns(relation.related_model, seals)):
        rows[row[link]].append(_plain(row))
    return rows


def _links_of_seals(model: type[models.Model]) -> frozenset[str]:
    """Columns by which rows of a model belong to a record that seals them."""
    relations: list[Any] = [kind.model._meta.get_field(name) for kind in _records.values() for name in kind.sealed]
    return frozenset(relation.field.attname for relation in relations if relation.related_model is model)


def _seals(kind: RecordKind, pk: Any, kept: dict[str, Any], given: Mapping[str, Seal]) -> dict[str, Any]:
    seals = {}
    for name in kind.sealed:
        relation: Any = kind.model._meta.get_field(name)
        columns = (kept.get(name) or {}).get("columns")
        seal = given.get(name) or seal_of(relation.related_model, relation.field.attname, pk, columns)
        seals[name] = seal.as_json()
    return seals


def snapshots(
    model: type[models.Model],
    pks: Sequence[Any],
    *,
    kept: Mapping[Any, Any] = MappingProxyType({}),
    seals: Mapping[Any, Mapping[str, Seal]] = MappingProxyType({}),
) -> dict[Any, dict[str, Any]]:
    """Read records as they stand in the database: every column, and the rows that belong to them.

    Parameters
    ----------
    kept : earlier snapshots by pk, whose seals say which columns they were made of
    seals : by pk, of rows that were inserted just now
    """
    kind = _records.get(model._meta.label_lower) or RecordKind(model)
    columns = _columns(model, kind.exclude)
    related = {name: _related_rows(kind, name, pks) for name in kind.related}
    found = {}
    for row in model._base_manager.filter(pk__in=pks).values("pk", *columns):
        pk = row.pop("pk")
        found[pk] = _plain(row) | {name: rows.get(pk, []) for name, rows in related.items()}
        found[pk] |= _seals(kind, pk, kept.get(pk) or {}, seals.get(pk) or {})
    return found


def snapshot(subject: models.Model) -> dict[str, Any]:
    """Read one record as it stands in the database."""
    return snapshots(type(subject), [subject.pk])[subject.pk]


def _changed(before: dict[str, Any] | None, after: dict[str, Any] | None) -> dict[str, Any] | None:
    """Keep of the earlier state what differs: the whole of it for a removal, nothing for a new record."""
    if before is None or after is None:
        return before
    return {key: value for key, value in before.items() if after.get(key) != value}


def _payload(change: Change, after: dict[str, Any] | None, actor: User | None, at: dt.datetime) -> str:
    origin = current_origin()
    return canonical(
        {
            "at": _plain(at),
            "actor": actor.pk if actor else None,
            "actor_name": actor.username if actor else "system",
            "source": {"kind": origin.kind, "where": origin.where, "request": origin.request_id},
            "action": change.action,
            "store": change.store.slug if change.store else None,
            "object": {
                "type": change.subject._meta.label_lower,
                "id": str(change.subject.pk),
                "text": str(change.subject),
            },
            "before": _changed(change.before, after),
            "after": after,
            "reason": change.reason,
        }
    )


def record_many(changes: Sequence[Change], *, actor: User | None) -> None:
    """Append entries, in order, in the caller's transaction.

    The subjects are read back from the database, so that what is kept is what was stored. A subject that is no
    longer there leaves an entry with `after` null.
    """
    by_model: dict[type[models.Model], dict[Any, Mapping[str, Seal]]] = defaultdict(dict)
    for change in changes:
        if change.action not in _sentences:
            raise ImproperlyConfigured(f"Unregistered audit action {change.action!r}.")
        by_model[type(change.subject)][change.subject.pk] = change.seals
    states = {model: snapshots(model, [*seals], seals=seals) for model, seals in by_model.items()}
    at = timezone.now()
    _append(
        [
            (
                at,
                actor.pk if actor else None,
                change.action,
                change.subject._meta.label_lower,
                str(change.subject.pk),
                _payload(change, states[type(change.subject)].get(change.subject.pk), actor, at),
            )
            for change in changes
        ]
    )


def _append(rows: list[tuple[Any, ...]]) -> None:
    if not rows:
        return
    columns = list(zip(*rows, strict=True))
    with connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO core_auditentry (id, at, actor_id, action, object_type, object_id, payload,"
            " previous_hash, hash)"
            " SELECT 0, row.at, row.actor, row.action, row.type, row.object, row.payload, '', ''"
            " FROM unnest(%s::timestamptz[], %s::bigint[], %s::text[], %s::text[], %s::text[], %s::text[])"
            " WITH ORDINALITY AS row (at, actor, action, type, object, payload, n) ORDER BY row.n",
            [list(column) for column in columns],
        )


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
    subject : the record, saved; or deleted just now, with its `pk` kept
    before : `snapshot(subject)` taken before the change
    reason : why, in the actor's words
    """
    record_many([Change(action, subject, before, reason, store)], actor=actor)


def sentence(entry: AuditEntry) -> str:
    """Tell an entry in words."""
    words = _sentences.get(entry.action, "{subject}: " + entry.action)
    return words.format(subject=entry.content["object"]["text"])


def entries_of(subject: models.Model) -> models.QuerySet[AuditEntry]:
    """Return the entries on one record, newest first."""
    return AuditEntry.objects.filter(object_type=subject._meta.label_lower, object_id=str(subject.pk)).select_related(
        "actor"
    )


def chain_hash(previous: bytes, payload: str) -> bytes:
    return hashlib.sha256(previous + payload.encode()).digest()
