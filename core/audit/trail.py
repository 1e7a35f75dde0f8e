"""The audit trail: append-only entries, hash-chained, each holding the record as it was left.

``hash = sha256(previous hash ‖ payload)`` with the payload as canonical JSON (sorted keys, no spaces, UTF-8).
Yardsticks: ISO/IEC 17025 clause 7.5 and 21 CFR 11.10(e) (both from memory).
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
# What an entry is given; its number and hashes come from the trigger.
ENTRY_COLUMNS = ("at", "actor_id", "action", "object_type", "object_id", "payload")

# A column's name, and what makes JSON of its value.
Turn = tuple[str, Callable[[Any], Any]]

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
class Named:
    """A record by its name alone, for changes so many that holding all the records would fill the memory."""

    model: type[models.Model]
    pk: Any
    text: str

    @classmethod
    def of(cls, subject: models.Model) -> Named:
        return cls(type(subject), subject.pk, str(subject))


@dataclass(frozen=True, slots=True)
class Change:
    """One entry to be written. `before` is the snapshot taken before the change, None for a new record.

    `seals`: of rows that were inserted just now, by relation, so that they need not be read back.
    `after`: gives the JSON text of a record that was inserted just now (`core.audit_states`), likewise.
    """

    action: str
    subject: models.Model | Named
    before: dict[str, Any] | None = None
    reason: str = ""
    store: Store | None = None
    seals: Mapping[str, Seal] = field(default_factory=dict)
    after: Callable[[], str] | None = None


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


def kind_of(model: type[models.Model]) -> RecordKind:
    return _records.get(model._meta.label_lower) or RecordKind(model)


def record_kinds() -> list[RecordKind]:
    return [kind for kind in _records.values() if kind.verified]


def _plain(value: Any) -> Any:
    """Turn a column's value into JSON that is the same whenever it is read back."""
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
    raise TypeError(f"The audit trail cannot keep a {type(value).__name__}.")


class _Digest(models.Func):
    """Bytes by their digest, taken where they lie."""

    function = "sha256"
    template = "'sha256:' || encode(%(function)s(%(expressions)s), 'hex')"
    output_field = models.TextField()


def as_is(value: Any) -> Any:
    return value


def _number(value: float | None) -> float | str | None:
    """A column's number; `_plain` of it, quicker. What is not finite is no JSON: infinity less itself is no zero."""
    return value if value is None or value - value == 0.0 else str(value)


def _stored(model: type[models.Model], exclude: frozenset[str]) -> list[models.Field[Any, Any]]:
    return [field for field in model._meta.concrete_fields if not field.generated and field.attname not in exclude]


def turns_of(model: type[models.Model], exclude: frozenset[str]) -> tuple[Turn, ...]:
    """For each column its name, and how to turn its value into JSON: `as_is` where it is that already."""
    return tuple((column.attname, _turn(column)) for column in _stored(model, exclude))


def _turn(column: models.Field[Any, Any]) -> Callable[[Any], Any]:
    held = column.target_field if isinstance(column, models.ForeignKey) else column
    is_json = isinstance(held, models.JSONField | models.IntegerField | models.CharField | models.BooleanField)
    if is_json:
        return as_is
    return _number if isinstance(held, models.FloatField) else _plain


def _read(
    rows: models.QuerySet[Any], exclude: frozenset[str] = frozenset(), *, by: str
) -> Iterator[tuple[Any, dict[str, Any]]]:
    """Read rows as JSON, each after the value of the column `by`."""
    turns = turns_of(rows.model, exclude)
    sources = [
        _Digest(column.attname) if isinstance(column, models.BinaryField) else column.attname
        for column in _stored(rows.model, exclude)
    ]
    for key, *values in rows.values_list(by, *sources):
        yield key, {name: turn(value) for (name, turn), value in zip(turns, values, strict=True)}


def _related_rows(kind: RecordKind, name: str, pks: Sequence[Any]) -> dict[Any, list[dict[str, Any]]]:
    relation: Any = kind.model._meta.get_field(name)
    link = relation.field.attname
    rows: dict[Any, list[dict[str, Any]]] = defaultdict(list)
    manager = relation.related_model._base_manager
    seals = links_of_seals(relation.related_model)
    found = manager.filter(**{f"{link}__in": pks}, **{f"{seal}__isnull": True for seal in seals}).order_by("pk")
    for key, row in _read(found, seals, by=link):
        rows[key].append(row)
    return rows


def links_of_seals(model: type[models.Model]) -> frozenset[str]:
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
    kind = kind_of(model)
    related = {name: _related_rows(kind, name, pks) for name in kind.related}
    found = {}
    # Unordered: a model's own order may follow a link, and a row whose link leads nowhere would be passed over.
    for pk, row in _read(model._base_manager.filter(pk__in=pks).order_by(), kind.exclude, by="pk"):
        found[pk] = row | {name: parts.get(pk, []) for name, parts in related.items()}
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


def _named(change: Change) -> Named:
    return change.subject if isinstance(change.subject, Named) else Named.of(change.subject)


def _payload(change: Change, state: dict[str, Any] | None, actor: User | None, at: dt.datetime) -> str:
    """The canonical JSON of an entry; the text of the record may be given as JSON already."""
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
    # The keys in their order: action, actor, actor_name, after, and those of the content.
    return f'{canonical(who | {"action": change.action})[:-1]},"after":{after},{canonical(content)[1:]}'


def record_many(changes: Sequence[Change], *, actor: User | None) -> None:
    """Append entries, in order, in the caller's transaction.

    The subjects are read back from the database, so that what is kept is what was stored, but for those that come
    with their `after`. A subject that is no longer there leaves an entry with `after` null.
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
    # Worked out before the COPY: naming a subject may look something up.
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
