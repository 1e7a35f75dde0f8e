"""What the program of a release asks of its tables, tried on a database: its SELECT, INSERT and UPDATE of each.

Django's models name every column of their tables in these, and no other. So the columns in a release's dump are what
its program writes and reads, and the rows in it are values that it writes.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.db import Error, connection, transaction

from core.database.roles import as_owner

_COLUMNS = """
SELECT relname, array_agg(attname::text ORDER BY attnum)
FROM pg_attribute JOIN pg_class c ON c.oid = attrelid
WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND attnum > 0 AND NOT attisdropped AND attgenerated = ''
GROUP BY relname
"""
# A table's row, without its triggers and rules for others' rows: it comes back by the INSERT.
_TAKE_A_ROW = (
    "SET LOCAL session_replication_role = replica",
    "CREATE TEMPORARY TABLE one ON COMMIT DROP AS SELECT {columns} FROM {table} ORDER BY ctid LIMIT 1",
    "DELETE FROM {table} WHERE ctid = (SELECT ctid FROM {table} ORDER BY ctid LIMIT 1)",
    "SET LOCAL session_replication_role = origin",
    "GRANT SELECT ON one TO {role}",
)
_AS_THE_APPLICATION = (
    "SET LOCAL ROLE {role}",
    "SET LOCAL benchlast.reach = 'everything'",
    "SET LOCAL benchlast.zone = 'UTC'",
)
_STATEMENTS = {
    "SELECT": "SELECT {columns} FROM {table} LIMIT 1",
    "UPDATE": "UPDATE {table} SET {values} WHERE ctid = (SELECT ctid FROM {table} LIMIT 1)",
    "INSERT": "INSERT INTO {table} ({columns}) OVERRIDING SYSTEM VALUE SELECT {columns} FROM one",
}


def columns_of_tables() -> dict[str, list[str]]:
    """Return the columns that a program may write, of each table in order."""
    with connection.cursor() as cursor:
        cursor.execute(_COLUMNS)
        return dict(cursor.fetchall())


def statements_that_work(tables: dict[str, list[str]]) -> set[str]:
    """Try the statements of these tables with these columns, as the application's role; nothing stays.

    Returns
    -------
    set of str
        Such as "INSERT core_store". What a rule refuses in either release, such as a change of the audit trail, is not
        in it.
    """
    with as_owner():
        return {
            f"{verb} {table}"
            for table, columns in tables.items()
            for verb, statement in _STATEMENTS.items()
            if _works(verb, statement, table, columns)
        }


def _works(verb: str, statement: str, table: str, columns: list[str]) -> bool:
    quoted = [connection.ops.quote_name(column) for column in columns]
    names = {
        "table": connection.ops.quote_name(table),
        "columns": ", ".join(quoted),
        "values": ", ".join(f"{name} = {name}" for name in quoted if name != '"id"') or "id = id",
        "role": connection.ops.quote_name(settings.APPLICATION_ROLE),
    }
    before = _TAKE_A_ROW if verb == "INSERT" else ()
    try:
        with _undone(), connection.cursor() as cursor:
            for each in (*before, *_AS_THE_APPLICATION, statement, "SET CONSTRAINTS ALL IMMEDIATE"):
                cursor.execute(each.format(**names))
    except Error:
        return False
    return True


@contextmanager
def _undone() -> Iterator[None]:
    with transaction.atomic():
        yield
        transaction.set_rollback(True)
