"""Queries that every page asks, made into SQL once: Django takes longer to make one than PostgreSQL to answer it."""

from __future__ import annotations

from typing import Any

import psycopg
from django.db import connection
from django.db.models import QuerySet

# Stands in a query for what is given later: the only value of an `__in`, or a value of its own.
SLOT = -1_234_567
SLOT_TEXT = "given later"


def bare_connection() -> Any:
    """Return the connection below Django's, or None inside a transaction and where there is none yet.

    What is asked there is planned once a connection; Django's own cursors plan every time. An answer also shows that
    the connection works, so that Django need not ask a question of its own before the next one.
    """
    wrapper: Any = connection
    bare = wrapper.connection
    if bare is None or bare.closed or connection.in_atomic_block or not connection.get_autocommit():
        return None
    return bare


class Compiled:
    """A query with slots, filled in the order in which they stand; a list fills the slot of an `__in`.

    SQL may be given instead where Django cannot say it, with `%s` for each slot.
    """

    def __init__(self, query: QuerySet[Any, Any] | str) -> None:
        if isinstance(query, str):
            self.sql, self.values = query, (SLOT,) * query.count("%s")
            return
        sql, values = query.query.sql_with_params()
        self.sql = sql.replace("IN (%s)", "= ANY(%s)")
        self.values = tuple(values)

    def rows(self, *given: Any) -> list[tuple[Any, ...]]:
        """Run it and return all rows, as the database has them."""
        left = iter(given)
        values = [next(left) if value in (SLOT, SLOT_TEXT) else value for value in self.values]
        bare = bare_connection()
        if bare is None:
            with connection.cursor() as cursor:
                cursor.execute(self.sql, values)
                return list(cursor.fetchall())
        with connection.wrap_database_errors:
            # Django's setting turns preparing off, for poolers that share connections between transactions.
            bare.prepare_threshold = 0
            with psycopg.Cursor(bare) as quick:
                return list(quick.execute(self.sql, values).fetchall())
