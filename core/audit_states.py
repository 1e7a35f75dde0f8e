"""Records as the trail keeps them, told from rows that are being stored: reading many back takes longer than that.

The text must be what `core.audit.snapshots` would read; `verify_audit` finds a record of which it is not.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import cache, partial
from tempfile import SpooledTemporaryFile
from typing import Any, Self

from django.db import models

from core.audit import Turn, canonical, kind_of, links_of_seals, turns_of

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
    turns, parts = _recipe(model)
    state: dict[str, Any] = {name: turn(row[name]) for name, turn in turns}
    for relation, part in parts.items():
        rows = (related or {}).get(relation, ())
        state[relation] = [{name: turn(one[name]) for name, turn in part} for one in rows]
    return canonical(state)


@cache
def _recipe(model: type[models.Model]) -> tuple[tuple[Turn, ...], dict[str, tuple[Turn, ...]]]:
    kind = kind_of(model)
    if kind.sealed:
        raise TypeError(f"A {model._meta.verbose_name} holds seals of other rows; let it be read back.")
    parts = {}
    for name in kind.related:
        relation: Any = model._meta.get_field(name)
        parts[name] = turns_of(relation.related_model, links_of_seals(relation.related_model))
    return turns_of(model, kind.exclude), parts


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
