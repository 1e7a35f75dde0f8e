"""Queries that every page asks, made into SQL once: Django takes longer to make one than PostgreSQL to answer it."""

from __future__ import annotations

from typing import Any

from django.db import connection
from django.db.models import QuerySet

# Stands in a query for what is given later: the only value of an `__in`, or a value of its own.
SLOT = -1_234_567
SLOT_TEXT = "given later"


class Compiled:
    """A query with slots, filled in the order in which they stand; a list fills the slot of an `__in`."""

    def __init__(self, query: QuerySet[Any, Any]) -> None:
        sql, values = query.query.sql_with_params()
        self.sql = sql.replace("IN (%s)", "= ANY(%s)")
        self.values = tuple(values)

    def rows(self, *given: Any) -> list[tuple[Any, ...]]:
        """Run it and return all rows, as the database has them."""
        left = iter(given)
        values = [next(left) if value in (SLOT, SLOT_TEXT) else value for value in self.values]
        with connection.cursor() as cursor:
            cursor.execute(self.sql, values)
            return list(cursor.fetchall())
