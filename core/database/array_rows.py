"""Reading and inserting very many rows as arrays by COPY, where handling them one by one would be too slow."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import psycopg
from django.db import connection, models

Array = npt.NDArray[Any]

# The binary format of COPY: a header, rows of length-prefixed big-endian values, a trailer.
_HEADER = b"PGCOPY\n\xff\r\n\0" + bytes(8)
_TRAILER = b"\xff\xff"
_CHUNK_ROWS = 20_000
_TYPES = {"bigint": ">i8", "integer": ">i4", "double precision": ">f8", "boolean": "?"}
_SENT_BY = {"bigint": "int8send", "integer": "int4send", "double precision": "float8send", "boolean": "boolsend"}
_NAN = "\\x7ff8000000000000"
_JSONB_VERSION = b"\x01"


@dataclass(frozen=True, slots=True)
class Seal:
    """A summary that the trail stores instead of many rows: their columns, number, and SHA-256 of their binary COPY."""

    columns: tuple[str, ...]
    rows: int
    sha256: str

    def as_json(self) -> dict[str, Any]:
        return {"columns": [*self.columns], "rows": self.rows, "sha256": self.sha256}


def columns_of(model: type[models.Model]) -> tuple[str, ...]:
    """Return the stored columns of a model in order."""
    return tuple(str(field.column) for field in model._meta.concrete_fields if not field.generated)


def seal_of(model: type[models.Model], link: str, pk: Any, columns: Sequence[str] | None = None) -> Seal:
    """Read back the rows whose column `link` is `pk`, in the order of their ids, and seal them.

    Parameters
    ----------
    columns : the columns of the earlier seal to compare with; by default all columns of the model
    """
    names = tuple(columns or columns_of(model))
    quote = connection.ops.quote_name
    sql = (
        f"COPY (SELECT {', '.join(map(quote, names))} FROM {quote(model._meta.db_table)}"  # noqa: S608  quoted names
        f" WHERE {quote(link)} = {int(pk)} ORDER BY {quote(str(model._meta.pk.column))}) TO STDOUT (FORMAT BINARY)"
    )
    digest = hashlib.sha256()
    with connection.cursor() as cursor, cursor.copy(sql) as copy:
        for block in copy:
            digest.update(block)
    return Seal(names, model._base_manager.filter(**{link: pk}).count(), digest.hexdigest())


def read_columns(rows: str, columns: Mapping[str, tuple[str, str]]) -> dict[str, Array]:
    """Read columns of many rows as arrays, all in the same order.

    Parameters
    ----------
    rows : the FROM clause of a query, without the word FROM
    columns : expression and type by name; type bigint, integer, boolean, or double precision (null becomes nan)

    Notes
    -----
    The server concatenates the binary values of each column, with parallel workers. Reading row by row, even by COPY,
    takes Python several times as long. A column is limited to 1 GB.
    """
    sent = ", ".join(f"string_agg({_sent(*column)}, '')" for column in columns.values())
    connection.ensure_connection()
    with psycopg.Cursor(connection.connection) as cursor:
        cursor.execute(f"SELECT {sent} FROM {rows}", binary=True)  # noqa: S608  expressions of our own
        blobs: Sequence[bytes | None] = cursor.fetchone() or ()
    arrays = {}
    for (name, (_, kind)), data in zip(columns.items(), blobs, strict=True):
        values = np.frombuffer(data or b"", dtype=_TYPES[kind])
        arrays[name] = values.astype(values.dtype.newbyteorder("="))
    return arrays


def _sent(expression: str, kind: str) -> str:
    value = f"{_SENT_BY[kind]}({expression})"
    return f"coalesce({value}, '{_NAN}')" if kind == "double precision" else value


def insert_rows(model: type[models.Model], columns: Mapping[str, Any]) -> Seal:
    """Insert many rows by COPY and seal them. The caller must lock the table against other inserts.

    Parameters
    ----------
    columns : every column except the id, by name: an array, shape (n,), or one value for all rows. nan becomes null.

    Returns
    -------
    Seal
        Computed from the bytes as they are sent; `seal_of` reads the same bytes back. Ids ascend in the order of the
        rows, with rows that have the same null columns grouped together.
    """
    names = columns_of(model)
    pk = str(model._meta.pk.column)
    arrays = {name: value for name, value in columns.items() if isinstance(value, np.ndarray)}
    n = len(next(iter(arrays.values())))
    digest = hashlib.sha256()
    quote = connection.ops.quote_name
    sql = f"COPY {quote(model._meta.db_table)} ({', '.join(map(quote, names))}) FROM STDIN (FORMAT BINARY)"
    first_id = _reserve_ids(model, n)
    with connection.cursor() as cursor, cursor.copy(sql) as copy:
        for block in _blocks(names, {**columns, pk: None}, (pk, first_id), n):
            digest.update(block)
            copy.write(block)
    return Seal(names, n, digest.hexdigest())


def _reserve_ids(model: type[models.Model], n: int) -> int:
    """Advance the id sequence by n and return the first id."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [model._meta.db_table, model._meta.pk.column])
        (sequence,) = cursor.fetchone()
        cursor.execute("SELECT setval(%s, nextval(%s) + %s)", [sequence, sequence, n])
        return int(cursor.fetchone()[0]) - n


def _blocks(names: Sequence[str], columns: Mapping[str, Any], ids: tuple[str, int], n: int) -> Iterator[bytes]:
    """Yield the bytes of the rows; rows with the same null columns are grouped, because their length is equal."""
    yield _HEADER
    nullable = [name for name in names if _is_float(columns[name])]
    patterns = np.zeros(n, dtype=np.int64)
    for place, name in enumerate(nullable):
        patterns |= np.isnan(columns[name]).astype(np.int64) << place
    pk, next_id = ids
    for pattern in np.unique(patterns).tolist():
        rows = np.flatnonzero(patterns == pattern)
        null = {name for place, name in enumerate(nullable) if pattern >> place & 1}
        template = _template(names, columns, null, pk)
        for start in range(0, len(rows), _CHUNK_ROWS):
            some = rows[start : start + _CHUNK_ROWS]
            block = np.repeat(template, len(some))
            block[pk] = np.arange(next_id, next_id + len(some))
            next_id += len(some)
            for name, value in columns.items():
                if isinstance(value, np.ndarray) and name not in null:
                    block[name] = value[some]
            yield block.tobytes()
    yield _TRAILER


def _is_float(value: Any) -> bool:
    return isinstance(value, np.ndarray) and value.dtype.kind == "f"


def _template(names: Sequence[str], columns: Mapping[str, Any], null: set[str], pk: str) -> Array:
    """Return one row with every value that is the same in all rows."""
    spec: list[tuple[str, str]] = [("n", ">i2")]
    constants: dict[str, Any] = {}
    lengths: dict[str, int] = {}
    for name in names:
        value = columns[name]
        spec.append((f"length of {name}", ">i4"))
        if name in null or (value is None and name != pk):
            lengths[name] = -1
            continue
        kind, constant = (">i8", 0) if name == pk else _binary(value)
        spec.append((name, kind))
        constants[name] = constant
        lengths[name] = np.dtype(kind).itemsize
    row = np.zeros(1, dtype=np.dtype(spec))
    row["n"] = len(names)
    for name in names:
        row[f"length of {name}"] = lengths[name]
        if name in constants:
            row[name] = constants[name]
    return row


def _binary(value: Any) -> tuple[str, Any]:
    """Return the type and the constant of a column's values in the binary format of COPY."""
    match value:
        case np.ndarray():
            return {"f": ">f8", "b": "?", "i": ">i8"}[value.dtype.kind], 0
        case bool():
            return "?", value
        case int():
            return ">i8", value
        case dict():
            if value:
                raise TypeError("only an empty object can be the same in all rows")
            return "S3", _JSONB_VERSION + b"{}"
    raise TypeError(f"rows cannot be inserted with a {type(value).__name__}")
