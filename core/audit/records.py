"""The records that the trail is about: which tables and columns they are made of, and reading them as JSON."""

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

from django.db import models

from core.database.array_rows import Seal, seal_of

# A column's name, and the function that converts its value to JSON.
ColumnConverter = tuple[str, Callable[[Any], Any]]

_records: dict[str, RecordKind] = {}


@dataclass(frozen=True, slots=True)
class Part:
    """Rows of another table whose content the trail has only as part of a record's digest.

    Attributes
    ----------
    relation : the reverse relation that leads to them, or several joined by two underscores
    columns : those of their columns that count; all where empty
    where : which rows count, as conditions on them
    name : what the digest and people call them; the relation where empty
    since : the version of the record's digests from which on they are part of it
    """

    relation: str
    columns: frozenset[str] = frozenset()
    where: Mapping[str, Any] = field(default_factory=dict)
    name: str = ""
    since: int = 1

    @property
    def key(self) -> str:
        return self.name or self.relation


@dataclass(frozen=True, slots=True)
class RecordKind:
    """A model whose rows are audited, with the rows of other tables that are part of each record."""

    model: type[models.Model]
    related: tuple[str, ...] = ()
    sealed: tuple[str, ...] = ()
    exclude: frozenset[str] = field(default_factory=frozenset)
    verified: bool = True
    decisions: tuple[str, ...] = ()
    private: frozenset[str] = field(default_factory=frozenset)
    parts: tuple[Part, ...] = ()

    @property
    def left_out(self) -> frozenset[str]:
        """The columns that are not in the trail as they are."""
        return self.exclude | self.private

    @property
    def has_digest(self) -> bool:
        return bool(self.private or self.parts)

    @property
    def digest_version(self) -> int:
        """Which parts new digests cover: all. Earlier digests cover those of their version."""
        return max((part.since for part in self.parts), default=1)


def register_record(
    model: type[models.Model],
    *,
    related: Sequence[str] = (),
    sealed: Sequence[str] = (),
    exclude: Iterable[str] = (),
    verified: bool = True,
    decisions: Sequence[str] = (),
    private: Iterable[str] = (),
    parts: Sequence[Part] = (),
) -> None:
    """Register a model whose rows are checked against their last entry.

    Parameters
    ----------
    related : reverse relations whose rows are part of the record (`"curves"`)
    sealed : reverse relations with so many rows that the entry has their number and digest instead of the rows; a row
        sealed in one record is left out of the other records it is related to
    exclude : columns that change without an entry, so that they are neither in the trail nor compared
    verified : False for a model whose entries leave out the excluded columns but are not checked
    decisions : beginnings of pairs of columns such as `reviewed_by` and `reviewed_at` (`"reviewed"`); an entry that
        fills them is by that account and of that time
    private, parts : columns, and rows of other tables, that must never be in the trail, such as those about health;
        it has a digest of them (`core.audit.digests`), and every change of them needs an entry
    """
    _records[model._meta.label_lower] = RecordKind(
        model,
        tuple(related),
        tuple(sealed),
        frozenset(exclude),
        verified,
        tuple(decisions),
        frozenset(private),
        tuple(parts),
    )


def kind_of(model: type[models.Model]) -> RecordKind:
    return _records.get(model._meta.label_lower) or RecordKind(model)


def record_kinds() -> list[RecordKind]:
    return [kind for kind in _records.values() if kind.verified]


def plain(value: Any) -> Any:
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
            return [plain(item) for item in value]
        case dict():
            return {str(key): plain(item) for key, item in value.items()}
    raise TypeError(f"The audit trail cannot store a {type(value).__name__}.")


class _Digest(models.Func):
    """The digest of a binary column, computed in the database."""

    function = "sha256"
    template = "'sha256:' || encode(%(function)s(%(expressions)s), 'hex')"
    output_field = models.TextField()


def unchanged(value: Any) -> Any:
    return value


def _number(value: float | None) -> float | str | None:
    """Convert a number like `plain`, but faster; `x - x` is not 0 for the values JSON cannot express (inf, nan)."""
    return value if value is None or value - value == 0.0 else str(value)


def stored(model: type[models.Model], exclude: frozenset[str]) -> list[models.Field[Any, Any]]:
    return [field for field in model._meta.concrete_fields if not field.generated and field.attname not in exclude]


def converters_of(model: type[models.Model], exclude: frozenset[str]) -> tuple[ColumnConverter, ...]:
    """Return the converter of each column; it is `unchanged` where the value is JSON already."""
    return tuple((column.attname, _converter(column)) for column in stored(model, exclude))


def _converter(column: models.Field[Any, Any]) -> Callable[[Any], Any]:
    field_type = column.target_field if isinstance(column, models.ForeignKey) else column
    is_json = isinstance(field_type, models.JSONField | models.IntegerField | models.CharField | models.BooleanField)
    if is_json:
        return unchanged
    return _number if isinstance(field_type, models.FloatField) else plain


def read(
    rows: models.QuerySet[Any], exclude: frozenset[str] = frozenset(), *, by: str
) -> Iterator[tuple[Any, dict[str, Any]]]:
    """Yield the value of the column `by` and the row as JSON, for each row."""
    converters = converters_of(rows.model, exclude)
    sources = [
        _Digest(column.attname) if isinstance(column, models.BinaryField) else column.attname
        for column in stored(rows.model, exclude)
    ]
    for key, *values in rows.values_list(by, *sources):
        yield key, {name: convert(value) for (name, convert), value in zip(converters, values, strict=True)}


def reached_by(model: type[models.Model], relations: str) -> tuple[Any, str]:
    """Return the table that reverse relations lead to, and the path from its rows to the key of the record."""
    table: Any = model
    steps: list[str] = []
    for name in relations.split("__"):
        relation = table._meta.get_field(name)
        table = relation.related_model
        steps.insert(0, relation.field.name)
    return table, "__".join(steps) + "_id"


def _related_rows(kind: RecordKind, name: str, pks: Sequence[Any]) -> dict[Any, list[dict[str, Any]]]:
    relation: Any = kind.model._meta.get_field(name)
    link = relation.field.attname
    rows: dict[Any, list[dict[str, Any]]] = defaultdict(list)
    manager = relation.related_model._base_manager
    seals = links_of_seals(relation.related_model)
    unsealed = manager.filter(**{f"{link}__in": pks}, **{f"{seal}__isnull": True for seal in seals}).order_by("pk")
    for key, row in read(unsealed, seals, by=link):
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
    states, _ = whole_records(kind_of(model), pks, earlier=earlier, seals=seals)
    return states


def whole_records(
    kind: RecordKind,
    pks: Sequence[Any],
    *,
    earlier: Mapping[Any, Any] = MappingProxyType({}),
    seals: Mapping[Any, Mapping[str, Seal]] = MappingProxyType({}),
) -> tuple[dict[Any, dict[str, Any]], dict[Any, dict[str, Any]]]:
    """Return snapshots, as `snapshots` does, and the private columns of the same rows, both by pk: read at once."""
    related = {name: _related_rows(kind, name, pks) for name in kind.related}
    states, private = {}, {}
    # Unordered: a model's default order may join another table, and a row with a dangling foreign key would be missed.
    for pk, row in read(kind.model._base_manager.filter(pk__in=pks).order_by(), kind.exclude, by="pk"):
        private[pk] = {name: row.pop(name) for name in kind.private}
        states[pk] = row | {name: parts.get(pk, []) for name, parts in related.items()}
        states[pk] |= _seals(kind, pk, earlier.get(pk) or {}, seals.get(pk) or {})
    return states, private


def snapshot(subject: models.Model) -> dict[str, Any]:
    """Read one record from the database."""
    return snapshots(type(subject), [subject.pk])[subject.pk]
