"""Running a command: what is to be put right outside the program is one sentence, and not a traceback."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import suppress

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line
from django.db import DatabaseError, Error, connection
from psycopg import errors

from core.database.roles import WrongRoleError
from core.operations.readiness import migration_problems

NOT_MIGRATED = "The database was not migrated. Run `manage.py migrate`, then this command again."


def run(argv: Sequence[str]) -> None:
    """Run a command; exits with 1 and a sentence where a setting, a folder or the database has to be put right."""
    try:
        execute_from_command_line(list(argv))
    except ImproperlyConfigured as problem:
        # Where in the code this was noticed says nothing about it.
        sys.exit(str(problem))
    except DatabaseError as problem:
        words = sentence(problem)
        if words is None:
            raise
        sys.exit(words)


def sentence(problem: Error) -> str | None:
    """Return what to do about an error of the database; None where the program may be at fault."""
    if isinstance(problem, WrongRoleError):
        return str(problem)
    # Before the first migration not even the role is there, and no connection is opened.
    if f'role "{settings.APPLICATION_ROLE}" does not exist' in str(problem):
        return NOT_MIGRATED
    if isinstance(problem.__cause__, errors.UndefinedTable | errors.UndefinedColumn | errors.UndefinedFunction):
        return _missing()
    if isinstance(problem.__cause__, errors.OperationalError) and problem.__cause__.sqlstate is None:
        return f"The database cannot be reached: {str(problem).strip()}"
    return None


def _missing() -> str | None:
    """Return which migrations are missing; None where all are there."""
    # What went wrong may have left it in a transaction that answers nothing more.
    connection.close()
    with suppress(Error):
        for words in migration_problems():
            return f"{NOT_MIGRATED} ({words})"
    return None
