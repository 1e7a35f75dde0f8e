"""The JSON states of new records for the audit trail, computed from the rows in memory.

Reading many rows back would take as long as storing them. The text must equal what `core.audit.snapshots` would read;
`verify_audit` reports a record where it does not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from tempfile import SpooledTemporaryFile
from typing import Any, Self

from django.db import models

from core.audit import ColumnConverter, converters_of, kind_of, links_of_seals, unchanged
from core.database.json_text import JsonText, list_text, object_text

# This much stays in memory; the rest goes to a temporary file, because an upload may bring very many records.
MEMORY_BYTES = 8 * 1024 * 1024


def state_of(
    model: type[models.Model], row: Mapping[str, Any], related: Mapping[str, Sequence[Mapping[str, Any]]] | None = None
) -> str:
    """Return the JSON text of a record.

    Parameters
    ----------
    row : the value of each column by its name on the model (`rig_id`), as the database will store it
    related : the record's rows in other tables, by relation, in the order of their ids
    """
    own, parts = _recipe(model)
    state: dict[str, Any] = own.of(row)
    for relation, part in parts.items():
        state[relation] = part.of_all((related or {}).get(relation, ()))
    return object_text(state)


@dataclass(frozen=True, slots=True)
class _Columns:
    """The columns of a table, those whose values must be converted to JSON, and those that contain JSON."""

    names: tuple[str, ...]
    converters: tuple[ColumnConverter, ...]
    json: tuple[str, ...]

    @classmethod
    def from_converters(cls, table: type[models.Model], converters: tuple[ColumnConverter, ...]) -> Self:
        return cls(
            tuple(name for name, _ in converters),
            tuple(converter for converter in converters if converter[1] is not unchanged),
            tuple(name for name, _ in converters if isinstance(table._meta.get_field(name), models.JSONField)),
        )

    def of(self, row: Mapping[str, Any]) -> dict[str, Any]:
        state = {name: row[name] for name in self.names}
        for name, convert in self.converters:
            state[name] = convert(state[name])
        return state

    def of_all(self, rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]] | JsonText:
        """Return the rows as JSON values, or as JSON text where a column already is text."""
        states = [self.of(row) for row in rows]
        if any(isinstance(state[name], JsonText) for name in self.json for state in states):
            return list_text(map(object_text, states))
        return states


@cache
def _recipe(model: type[models.Model]) -> tuple[_Columns, dict[str, _Columns]]:
    kind = kind_of(model)
    if kind.sealed:
        raise TypeError(f"A {model._meta.verbose_name} contains seals of other rows; read it back instead.")
    if kind.has_digest:
        raise TypeError(f"The trail has a digest of a {model._meta.verbose_name}; read it back instead.")
    parts = {}
    for name in kind.related:
        relation: Any = model._meta.get_field(name)
        table = relation.related_model
        parts[name] = _Columns.from_converters(table, converters_of(table, links_of_seals(table)))
    return _Columns.from_converters(model, converters_of(model, kind.left_out)), parts


class Spool:
    """Holds texts until the trail is written at the end of a service. Use it as a context manager."""

    def __init__(self) -> None:
        self._file = SpooledTemporaryFile[bytes](MEMORY_BYTES)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def keep(self, text: str) -> Callable[[], str]:
        """Store a text and return a function that reads it back."""
        data = text.encode()
        start = self._file.seek(0, 2)
        self._file.write(data)
        return partial(self._read, start, len(data))

    def _read(self, start: int, size: int) -> str:
        self._file.seek(start)
        return self._file.read(size).decode()
