"""What checking the audit trail covers and what it does not, taken from the registered records."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.db import models

from core.audit.entry_checks import TOLERANCE
from core.audit.records import RecordKind, reached_by, record_kinds, stored
from core.models import AuditEntry, DigestSalt

BEYOND = (
    "Entries and their records that somebody with the application’s database password adds together at the present "
    "time, in anybody’s name: their chain is whole.",
    "The newest entries, where they were removed together with what they record: give --expect a head that was sent "
    "off this machine by send_audit_head.",
)
"""What no check of the database against itself can find."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """What is checked and what is not, as names of tables and columns.

    Attributes
    ----------
    entries : how many entries there are
    compared : tables compared column by column with the last entry on each row
    by_digest : columns and rows that the trail has only a digest of, by table
    without_digest : how many records have no digest yet, by table; their last entry is older than the digests
    tables : tables that are not compared
    columns : columns that are not compared, by table
    """

    entries: int
    compared: tuple[str, ...]
    by_digest: dict[str, tuple[str, ...]]
    without_digest: dict[str, int]
    tables: tuple[str, ...]
    columns: dict[str, tuple[str, ...]]

    def lines(self) -> Iterator[str]:
        """Yield the coverage as lines of text."""
        minutes = int(TOLERANCE.total_seconds() // 60)
        yield f"Checked: {self.entries} entries: numbers, hashes, actors, decisions, and times to {minutes} minutes;"
        yield f"  compared with their last entry: {', '.join(self.compared)};"
        yield f"  compared with a digest in their last entry: {_listed(self.by_digest)}."
        if self.without_digest:
            counts = ", ".join(f"{table} {count}" for table, count in self.without_digest.items())
            yield f"No digest yet, because the last entry is older than the digests: {counts}."
        yield f"Not checked: the tables {', '.join(self.tables)};"
        yield f"  the columns {_listed(self.columns)}."
        yield from (f"Not found by this: {words}" for words in BEYOND)


def _listed(names: dict[str, tuple[str, ...]]) -> str:
    return "; ".join(f"{table} ({', '.join(some)})" for table, some in names.items())


def coverage() -> Coverage:
    kinds = record_kinds()
    by_digest = [kind for kind in kinds if kind.has_digest]
    missing = {_name(kind.model): _without_digest(kind) for kind in by_digest}
    return Coverage(
        entries=AuditEntry.objects.count(),
        compared=tuple(_name(model) for kind in kinds for model in (kind.model, *_related(kind))),
        by_digest={
            _name(kind.model): (*sorted(kind.private), *(part.key for part in kind.parts)) for kind in by_digest
        },
        without_digest={name: count for name, count in missing.items() if count},
        tables=tuple(_name(model) for model in tables_not_checked()),
        columns={_name(kind.model): tuple(sorted(kind.exclude)) for kind in kinds if kind.exclude}
        | {_name(table): columns for kind in by_digest for table, columns in _left_out_of_parts(kind)},
    )


def _left_out_of_parts(kind: RecordKind) -> Iterator[tuple[Any, tuple[str, ...]]]:
    """Yield the tables of a record's parts of which some columns are in no digest, with those columns."""
    covered: dict[Any, set[str]] = {}
    for part in kind.parts:
        table, link = reached_by(kind.model, part.relation)
        names = part.columns or {column.attname for column in stored(table, frozenset())}
        covered.setdefault(table, {table._meta.pk.attname, link.split("__")[0], link}).update(names)
    for table, names in covered.items():
        if rest := [column.attname for column in stored(table, frozenset(names)) if column.name not in names]:
            yield table, tuple(sorted(rest))


def tables_not_checked() -> list[type[models.Model]]:
    """Return the models with a table that is neither the trail's own nor part of a checked record."""
    checked: set[Any] = {AuditEntry, DigestSalt}
    for kind in record_kinds():
        parts = [reached_by(kind.model, part.relation)[0] for part in kind.parts]
        checked |= {kind.model, *_related(kind), *parts}
    return [model for model in apps.get_models(include_auto_created=True) if model not in checked and _has_table(model)]


def _has_table(model: type[models.Model]) -> bool:
    return not model._meta.proxy and model._meta.managed


def _related(kind: RecordKind) -> list[Any]:
    return [_target(kind, name) for name in (*kind.related, *kind.sealed)]


def _target(kind: RecordKind, name: str) -> Any:
    relation: Any = kind.model._meta.get_field(name)
    return relation.related_model


def _without_digest(kind: RecordKind) -> int:
    salts = DigestSalt.objects.filter(object_type=kind.model._meta.label_lower).count()
    return max(0, kind.model._base_manager.count() - salts)


def _name(model: Any) -> str:
    return str(model._meta.verbose_name_plural)
