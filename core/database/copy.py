"""Inserting many rows by COPY, where building an INSERT and its parameters would cost more than the rows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import cache
from typing import Any

from django.db import connection, models
from psycopg.types.json import Jsonb

from core.database.json_text import JsonText

Prepare = Callable[[Any], Any]


def take_ids(model: type[models.Model], n: int) -> list[int]:
    """Take ids for new rows from the table's sequence, in order."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT nextval(%s::regclass) FROM generate_series(1, %s)", [_sequence(model), n])
        return [number for (number,) in cursor.fetchall()]


@cache
def _sequence(model: type[models.Model]) -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [model._meta.db_table, model._meta.pk.column])
        return str(cursor.fetchone()[0])


def copy_rows(model: type[models.Model], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Insert rows in the caller's transaction.

    Only the database validates them: the calling service must have checked them.

    Parameters
    ----------
    names : the columns, by their names on the model (`test_id`); all others need a default in the database
    rows : one value for each name, as on a model instance
    """
    statement, types, prepare = _target(model, tuple(names))
    with connection.cursor() as cursor, cursor.copy(statement) as copy:
        copy.set_types(types)
        for row in rows:
            values = list(row)
            for index, prepared in prepare:
                values[index] = prepared(values[index])
            copy.write_row(values)


def copy_new(instances: Sequence[models.Model]) -> None:
    """Insert new instances of one model; their ids come from `take_ids`."""
    if not instances:
        return
    model = type(instances[0])
    names = [field.attname for field in model._meta.concrete_fields if not field.generated]
    copy_rows(model, names, ([getattr(instance, name) for name in names] for instance in instances))
    for instance in instances:
        instance._state.adding = False


@cache
def _target(model: type[models.Model], names: tuple[str, ...]) -> tuple[str, list[str], list[tuple[int, Prepare]]]:
    """Return the statement, the types of its columns, and converters for the columns that need one."""
    quote = connection.ops.quote_name
    by_name = {field.attname: field for field in model._meta.concrete_fields}
    fields = [by_name[name] for name in names]
    columns = ", ".join(quote(str(field.column)) for field in fields)
    # `varchar(200)` and `numeric(4, 1)` are sent as their plain types; the database applies the length.
    types = [str(field.db_type(connection)).partition("(")[0] for field in fields]
    prepare: list[tuple[int, Prepare]]
    prepare = [(index, _json) for index, field in enumerate(fields) if isinstance(field, models.JSONField)]
    return f"COPY {quote(model._meta.db_table)} ({columns}) FROM STDIN (FORMAT BINARY)", types, prepare


def _json(value: Any) -> Any:
    if isinstance(value, JsonText):
        return Jsonb(value, dumps=str)
    return None if value is None else connection.ops.adapt_json_value(value, None)
