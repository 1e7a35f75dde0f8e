"""What a database shows its owner, in sessions past the application, and which foreign keys it holds to for whom."""

from __future__ import annotations

from typing import Any

import psycopg
from django.conf import settings
from psycopg import sql

from core.database.roles import owner_params


def seen_by_owner(table: str) -> dict[str, int]:
    """Count the rows of a table about people that the owner sees, by reach."""
    return {reach: _session(reach, None, f"SELECT count(*) FROM {table}") for reach in ("", "everything")}


def kept_by_foreign_keys(table: str, key: int) -> set[str]:
    """Try to delete a row that people's rows refer to, as everybody, and return the tables that forbade it."""
    return {
        _session(reach, role, f"DELETE FROM {table} WHERE id = {key}")
        for role, reach in ((None, ""), (None, "everything"), (settings.APPLICATION_ROLE, ""))
    }


def _session(reach: str, role: str | None, statement: str) -> Any:
    """Run a statement in a session that is thrown away; returns its value, or the table whose key forbade it."""
    with psycopg.connect(**owner_params() | {"options": f"-c benchlast.reach={reach}"}) as opened:
        try:
            if role is not None:
                opened.execute(sql.SQL("SET ROLE {}").format(sql.Identifier(role)))
            answer = opened.execute(statement)
            opened.execute("SET CONSTRAINTS ALL IMMEDIATE")
            return answer.fetchone()[0] if answer.description else "nobody"
        except psycopg.errors.ForeignKeyViolation as problem:
            return problem.diag.table_name
        finally:
            opened.rollback()
