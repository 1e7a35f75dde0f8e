"""Migrating while the application is served: one migration at a time, and none that waits for a lock for long.

A statement that waits for a lock on a table makes everybody wait who comes after it, so it must give up soon.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import psycopg
from django.db import OperationalError
from psycopg.errors import LockNotAvailable

from core.database.roles import owner_params
from core.domain.errors import DomainError

LOCK = 7_301_455_011
TURN_TIMEOUT_S = 600.0


@contextmanager
def one_at_a_time() -> Iterator[None]:
    """Wait until no other process migrates this database, and let others wait meanwhile.

    The lock belongs to a connection of its own, which stays open whatever the migration does with its own.

    Raises
    ------
    DomainError
        If another process has been at it for `TURN_TIMEOUT_S`.
    """
    with psycopg.connect(**owner_params(), autocommit=True) as turn:
        turn.execute(f"SET lock_timeout = {round(TURN_TIMEOUT_S * 1000)}")
        try:
            turn.execute("SELECT pg_advisory_lock(%s)", [LOCK])
        except LockNotAvailable as problem:
            raise DomainError(
                f"Another process has been migrating this database for {TURN_TIMEOUT_S:.0f} seconds. Let it finish, or "
                "end it, and run migrate again.",
                code="migrating",
            ) from problem
        yield


@contextmanager
def naming_locked_tables(lock_timeout_s: float) -> Iterator[None]:
    """Turn the failure to lock a table in time into an error that says what to do.

    Raises
    ------
    DomainError
        If a lock was not to be had within `lock_timeout_s`.
    """
    try:
        yield
    except OperationalError as problem:
        if not isinstance(problem.__cause__, LockNotAvailable):
            raise
        raise DomainError(
            f"A table could not be locked within {lock_timeout_s:g} seconds, because somebody is using it in a long "
            "transaction. The step that needed it was undone; what was migrated before is whole and the application "
            "goes on. Run migrate again when it is quieter, or with a longer --lock-timeout. Long transactions are in "
            "pg_stat_activity, by xact_start.",
            code="locked",
        ) from problem
