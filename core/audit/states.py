"""Records as the trail keeps them, told from rows that are being stored: reading many back takes longer than that.

The text must be what `core.audit.snapshots` would read; `verify_audit` finds a record of which it is not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from tempfile import SpooledTemporaryFile
from typing import Any, Self

from django.db import models

from core.audit import Turn, as_is, kind_of, links_of_seals, turns_of
from core.database.json_text import JsonText, list_text, object_text

# So much is held in memory; the rest waits in a temporary file, as an upload may bring very many records.
HELD_BYTES = 8 * 1024 * 1024


def state_of(
    model: type[models.Model], row: Mapping[str, Any], related: Mapping[str, Sequence[Mapping[str, Any]]] | None = None
) -> str:
    """Return the JSON text of a record.

    Parameters
    ----------
    row : a value for each column by its name on the model (`rig_id`), as the database will hold it
    related : rows of its own tables, by relation, in the order of their ids
    """
    own, parts = _recipe(model)
    state: dict[str, Any] = own.of(row)
    for relation, part in parts.items():
        state[relation] = part.of_all((related or {}).get(relation, ()))
    return object_text(state)


@dataclass(frozen=True, slots=True)
class _Columns:
    """The columns of a table; those whose values have to be turned into JSON, and those that hold JSON."""

    names: tuple[str, ...]
    turns: tuple[Turn, ...]
    json: tuple[str, ...]

    @classmethod
    def named(cls, table: type[models.Model], turns: tuple[Turn, ...]) -> Self:
        return cls(
            tuple(name for name, _ in turns),
            tuple(turn for turn in turns if turn[1] is not as_is),
            tuple(name for name, _ in turns if isinstance(table._meta.get_field(name), models.JSONField)),
        )

    def of(self, row: Mapping[str, Any]) -> dict[str, Any]:
        state = {name: row[name] for name in self.names}
        for name, turn in self.turns:
            state[name] = turn(state[name])
        return state

    def of_all(self, rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]] | JsonText:
        """The rows as JSON; as its text where one of them brings a text."""
        states = [self.of(row) for row in rows]
        if any(isinstance(state[name], JsonText) for name in self.json for state in states):
            return list_text(map(object_text, states))
        return states


@cache
def _recipe(model: type[models.Model]) -> tuple[_Columns, dict[str, _Columns]]:
    kind = kind_of(model)
    if kind.sealed:
        raise TypeError(f"A {model._meta.verbose_name} holds seals of other rows; let it be read back.")
    parts = {}
    for name in kind.related:
        relation: Any = model._meta.get_field(name)
        table = relation.related_model
        parts[name] = _Columns.named(table, turns_of(table, links_of_seals(table)))
    return _Columns.named(model, turns_of(model, kind.exclude)), parts


class Spool:
    """Texts that wait until the trail is written, which comes last. A context: at its end they are let go."""

    def __init__(self) -> None:
        self._file = SpooledTemporaryFile[bytes](HELD_BYTES)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def keep(self, text: str) -> Callable[[], str]:
        """Keep a text; what is returned gives it back."""
        data = text.encode()
        start = self._file.seek(0, 2)
        self._file.write(data)
        return partial(self._read, start, len(data))

    def _read(self, start: int, size: int) -> str:
        self._file.seek(start)
        return self._file.read(size).decode()
