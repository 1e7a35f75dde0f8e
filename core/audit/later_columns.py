"""Entries that are older than some of their record's columns.

A migration that adds a column fills the rows that exist with the column's default and writes no entries. So a column
that none of a record's entries has must still have its default; any other value came without an entry. A column that a
migration removed is no longer compared.
"""

from __future__ import annotations

from typing import Any

from django.db import models

from core.audit.records import RecordKind, converters_of, links_of_seals

State = dict[str, Any]


def as_stored_today(kind: RecordKind, after: State) -> State:
    """Return the state in a record's last entry with the columns that the record has today."""
    state = _with_columns_of(kind.model, after, kind.left_out)
    for name in kind.related:
        relation: Any = kind.model._meta.get_field(name)
        table = relation.related_model
        seals = links_of_seals(table)
        state[name] = [_with_columns_of(table, row, seals) for row in after.get(name, [])]
    return state | {name: after[name] for name in kind.sealed if name in after}


def _with_columns_of(model: type[models.Model], row: State, exclude: frozenset[str]) -> State:
    return {
        name: row[name] if name in row else convert(_default(model, name))
        for name, convert in converters_of(model, exclude)
    }


def _default(model: type[models.Model], column: str) -> Any:
    """Return what a migration puts into a new column; None for a column that every entry must have (its key)."""
    field: Any = model._meta.get_field(column)
    return None if field.primary_key else field.get_default()
