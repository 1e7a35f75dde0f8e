"""Statements that nearly every page sends, as SQL: Django takes longer to build them than PostgreSQL to answer."""

from __future__ import annotations

from typing import Any

import psycopg

from core.database.pooling import is_by_transaction
from core.database.sources import read_connection


def own_connection() -> Any:
    """Return psycopg's connection below Django's, or None inside a transaction and where there is none yet.

    Also None with a pooler of transactions, through which nothing may be prepared. What is sent there is planned
    once a connection; Django's own cursors have PostgreSQL plan every time.
    """
    if is_by_transaction():
        return None
    wrapper = read_connection()
    own = wrapper.connection
    if own is None or own.closed or wrapper.in_atomic_block or not wrapper.get_autocommit():
        return None
    return own


def rows(sql: str, *values: Any) -> list[tuple[Any, ...]]:
    """Run a statement and return all its rows."""
    own = own_connection()
    if own is None:
        with read_connection().cursor() as cursor:
            cursor.execute(sql, values)
            return list(cursor.fetchall())
    with read_connection().wrap_database_errors, psycopg.Cursor(own) as prepared:
        return list(prepared.execute(sql.encode(), values, prepare=True).fetchall())
