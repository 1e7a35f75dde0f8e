"""The audit trail: append-only, hash-chained entries, each with the record as it was after the change.

``hash = sha256(previous hash ‖ payload)`` with the payload as canonical JSON (sorted keys, no spaces, UTF-8).
Standards followed: ISO/IEC 17025 clause 7.5 and 21 CFR 11.10(e) (both from memory).
"""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.db import models
from django.utils import timezone

from core.database.array_rows import Seal, seal_of
from core.database.copy import copy_rows
from core.database.json_text import canonical
from core.gate.context import current_origin
from core.models import AuditEntry, Store, User

GENESIS = bytes(32)
# The columns that are written here; the trigger adds the number and the hashes.
ENTRY_COLUMNS = ("at", "actor_id", "action", "object_type", "object_id", "payload")

# A column's name, and the function that converts its value to JSON.
ColumnConverter = tuple[str, Callable[[Any], Any]]

_sentences: dict[str, str] = {}
_records: dict[str, RecordKind] = {}


@dataclass(frozen=True, slots=True)
class RecordKind:
    """A model whose rows are audited, with the rows of other tables that are part of each record."""

    model: type[models.Model]
    related: tuple[str, ...] = ()
    sealed: tuple[str, ...] = ()
    exclude: frozenset[str] = field(default_factory=frozenset)
    verified: bool = True


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
    sealed : reverse relations with so many rows that the entry has their number and digest instead of the rows; a row
        sealed in one record is left out of the other records it is related to
    exclude : columns whose changes do not count as a change of the record, or that must never be in the trail
    verified : False for a model whose entries leave out the excluded columns but are not checked
    """
    _records[model._meta.label_lower] = RecordKind(model, tuple(related), tuple(sealed), frozenset(exclude), verified)


def actions() -> dict[str, str]:
    return dict(_sentences)


def kind_of(model: type[models.Model]) -> RecordKind:
    return _records.get(model._meta.label_lower) or RecordKind(model)


def record_kinds() -> list[RecordKind]:
    return [kind for kind in _records.values() if kind.verified]


def _plain(value: Any) -> Any:
    """Convert a column's value to JSON that is the same whenever it is read back."""
    if value is None or isinstance(value, (int, str)):
        return value
    match value:
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
    raise TypeError(f"The audit trail cannot store a {type(value).__name__}.")


class _Digest(models.Func):
    """The digest of a binary column, computed in the database."""

    function = "sha256"
    template = "'sha256:' || encode(%(function)s(%(expressions)s), 'hex')"
    output_field = models.TextField()


def unchanged(value: Any) -> Any:
    return value


def _number(value: float | None) -> float | str | None:
    """Convert a number like `_plain`, but faster; `x - x` is not 0 for the values JSON cannot express (inf, nan)."""
    return value if value is None or value - value == 0.0 else str(value)


def _stored(model: type[models.Model], exclude: frozenset[str]) -> list[models.Field[Any, Any]]:
    return [field for field in model._meta.concrete_fields if not field.generated and field.attname not in exclude]


def converters_of(model: type[models.Model], exclude: frozenset[str]) -> tuple[ColumnConverter, ...]:
    """Return the converter of each column; it is `unchanged` where the value is JSON already."""
    return tuple((column.attname, _converter(column)) for column in _stored(model, exclude))


def _converter(column: models.Field[Any, Any]) -> Callable[[Any], Any]:
    field_type = column.target_field if isinstance(column, models.ForeignKey) else column
    is_json = isinstance(field_type, models.JSONField | models.IntegerField | models.CharField | models.BooleanField)
    if is_json:
        return unchanged
    return _number if isinstance(field_type, models.FloatField) else _plain


def _read(
    rows: models.QuerySet[Any], exclude: frozenset[str] = frozenset(), *, by: str
) -> Iterator[tuple[Any, dict[str, Any]]]:
    """Yield the value of the column `by` and the row as JSON, for each row."""
    converters = converters_of(rows.model, exclude)
    sources = [
        _Digest(column.attname) if isinstance(column, models.BinaryField) else column.attname
        for column in _stored(rows.model, exclude)
    ]
    for key, *values in rows.values_list(by, *sources):
        yield key, {name: convert(value) for (name, convert), value in zip(converters, values, strict=True)}


def _related_rows(kind: RecordKind, name: str, pks: Sequence[Any]) -> dict[Any, list[dict[str, Any]]]:
    relation: Any = kind.model._meta.get_field(name)
    link = relation.field.attname
    rows: dict[Any, list[dict[str, Any]]] = defaultdict(list)
    manager = relation.related_model._base_manager
    seals = links_of_seals(relation.related_model)
    unsealed = manager.filter(**{f"{link}__in": pks}, **{f"{seal}__isnull": True for seal in seals}).order_by("pk")
    for key, row in _read(unsealed, seals, by=link):
        rows[key].append(row)
    return rows


def links_of_seals(model: type[models.Model]) -> frozenset[str]:
    """Return the foreign keys from a model's rows to records that seal them."""
    relations: list[Any] = [kind.model._meta.get_field(name) for kind in _records.values() for name in kind.sealed]
    return frozenset(relation.field.attname for relation in relations if relation.related_model is model)


def _seals(kind: RecordKind, pk: Any, earlier: dict[str, Any], given: Mapping[str, Seal]) -> dict[str, Any]:
    seals = {}
    for name in kind.sealed:
        relation: Any = kind.model._meta.get_field(name)
        columns = (earlier.get(name) or {}).get("columns")
        seal = given.get(name) or seal_of(relation.related_model, relation.field.attname, pk, columns)
        seals[name] = seal.as_json()
    return seals


def snapshots(
    model: type[models.Model],
    pks: Sequence[Any],
    *,
    earlier: Mapping[Any, Any] = MappingProxyType({}),
    seals: Mapping[Any, Mapping[str, Seal]] = MappingProxyType({}),
) -> dict[Any, dict[str, Any]]:
    """Read records from the database: every column, and the rows of other tables that are part of them.

    Parameters
    ----------
    earlier : earlier snapshots by pk; their seals name the columns to seal
    seals : by pk, the seals of rows that were just inserted
    """
    kind = kind_of(model)
    related = {name: _related_rows(kind, name, pks) for name in kind.related}
    states = {}
    # Unordered: a model's default order may join another table, and a row with a dangling foreign key would be missed.
    for pk, row in _read(model._base_manager.filter(pk__in=pks).order_by(), kind.exclude, by="pk"):
        states[pk] = row | {name: parts.get(pk, []) for name, parts in related.items()}
        states[pk] |= _seals(kind, pk, earlier.get(pk) or {}, seals.get(pk) or {})
    return states


def snapshot(subject: models.Model) -> dict[str, Any]:
    """Read one record from the database."""
    return snapshots(type(subject), [subject.pk])[subject.pk]


def _changed(before: dict[str, Any] | None, after: dict[str, Any] | None) -> dict[str, Any] | None:
    """Return the earlier values that changed: all of them for a removal, None for a new record."""
    if before is None or after is None:
        return before
    return {key: value for key, value in before.items() if after.get(key) != value}


def _named(change: Change) -> Named:
    return change.subject if isinstance(change.subject, Named) else Named.of(change.subject)


def _payload(change: Change, state: dict[str, Any] | None, actor: User | None, at: dt.datetime) -> str:
    """Return the canonical JSON of an entry; the record may come as JSON text already."""
    origin, subject = current_origin(), _named(change)
    after = change.after() if change.after else canonical(state)
    content = {
        "at": _plain(at),
        "source": {"kind": origin.kind, "where": origin.where, "request": origin.request_id},
        "store": change.store.slug if change.store else None,
        "object": {
            "type": subject.model._meta.label_lower,
            "id": str(subject.pk),
            "text": subject.text,
        },
        "before": _changed(change.before, state),
        "reason": change.reason,
    }
    who = {"actor": actor.pk if actor else None, "actor_name": actor.username if actor else "system"}
    # The keys in sorted order: action, actor, actor_name, after, then those of `content`.
    return f'{canonical(who | {"action": change.action})[:-1]},"after":{after},{canonical(content)[1:]}'


def record_many(changes: Sequence[Change], *, actor: User | None) -> None:
    """Append entries, in order, in the caller's transaction.

    The subjects are read back from the database, so that the entry has what was actually stored, except those that
    come with their own `after`. A subject that was deleted gets an entry whose `after` is null.
    """
    by_model: dict[type[models.Model], dict[Any, Mapping[str, Seal]]] = defaultdict(dict)
    for change in changes:
        if change.action not in _sentences:
            raise ImproperlyConfigured(f"Unregistered audit action {change.action!r}.")
        if change.after is None:
            named = _named(change)
            by_model[named.model][named.pk] = change.seals
    states = {model: snapshots(model, [*seals], seals=seals) for model, seals in by_model.items()}
    at = timezone.now()
    # Computed before the COPY, because the name of a subject may need a query.
    rows = [_row(change, states, actor, at) for change in changes]
    if rows:
        copy_rows(AuditEntry, ENTRY_COLUMNS, rows)


def _row(
    change: Change, states: dict[type[models.Model], dict[Any, dict[str, Any]]], actor: User | None, at: dt.datetime
) -> tuple[Any, ...]:
    subject = _named(change)
    payload = _payload(change, states.get(subject.model, {}).get(subject.pk), actor, at)
    return at, actor.pk if actor else None, change.action, subject.model._meta.label_lower, str(subject.pk), payload


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
