"""Whether this process can do its work: database, role, migrations, primary or standby."""

from __future__ import annotations

import time
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

from django.conf import settings
from django.db import Error, connection
from django.db.migrations.loader import MigrationLoader

from core.database.replicas import ReplicaState, watch
from core.database.roles import WrongRoleError

CLOCK_TOLERANCE_S = 5.0


@dataclass(frozen=True, slots=True)
class Readiness:
    """What was found; `problems` is empty where the application is ready.

    `standby_lag_s`: seconds since the last change that a standby has replayed, 0 where it has replayed all that it has
    received, None on a primary. `replicas` are those that visitors' reads may go to, as they were at the last look.
    `clock_ahead_s`: how far this machine's clock is ahead of the database's. `warnings` are to be put right, but
    requests may be sent here.
    """

    problems: tuple[str, ...]
    database: str = "unreachable"
    standby_lag_s: float | None = None
    replicas: tuple[ReplicaState, ...] = ()
    clock_ahead_s: float | None = None
    warnings: tuple[str, ...] = ()

    @property
    def is_ready(self) -> bool:
        return not self.problems

    def as_json(self) -> dict[str, Any]:
        return {"status": "ready" if self.is_ready else "not ready", **asdict(self)}


_STATE = """
SELECT current_user::text, extract(epoch FROM clock_timestamp())::float8, pg_is_in_recovery(), CASE
    WHEN NOT pg_is_in_recovery() THEN NULL
    -- A standby with nothing left to replay is up to date, however long ago the last change was.
    WHEN pg_last_wal_receive_lsn() = pg_last_wal_replay_lsn() THEN 0
    ELSE extract(epoch FROM clock_timestamp() - pg_last_xact_replay_timestamp()) END::float8
"""


def readiness() -> Readiness:
    """Ask the database; never raises for one that is away.

    Without the primary an application with a usable replica still answers visitors, so requests may be sent to it.

    References
    ----------
    .. [1] PostgreSQL documentation, 9.28.4 (recovery information functions).
    """
    watch().start()
    replicas = watch().states
    try:
        with connection.cursor() as cursor:
            before = time.time()
            cursor.execute(_STATE)
            role, clock, is_standby, lag = cursor.fetchone()
            ahead = (before + time.time()) / 2 - clock
        missing = migration_problems()
    except WrongRoleError as problem:
        return Readiness((str(problem),), "unusable", replicas=replicas)
    except Error:
        is_readable = any(state.is_usable for state in replicas)
        return Readiness(() if is_readable else ("The database cannot be reached.",), replicas=replicas)
    problems = (*_role_problems(role), *missing)
    database = "standby" if is_standby else "primary"
    return Readiness(problems, database, lag, replicas, round(ahead, 1), _clock_warnings(ahead))


def _role_problems(role: str) -> tuple[str, ...]:
    if role == settings.APPLICATION_ROLE:
        return ()
    return (f"The application works as the database user {role}, not as {settings.APPLICATION_ROLE}.",)


def _clock_warnings(ahead_s: float) -> tuple[str, ...]:
    """Codes of second factors change every 30 s, and links and sessions end by this machine's clock."""
    if abs(ahead_s) < CLOCK_TOLERANCE_S:
        return ()
    words = "ahead of" if ahead_s > 0 else "behind"
    return (f"The clock of this machine is {abs(ahead_s):.0f} s {words} the database’s. Synchronise both (NTP).",)


def migration_problems() -> tuple[str, ...]:
    """Say which of the program's migrations the database lacks.

    Raises
    ------
    django.db.Error
        The database cannot be reached.
    """
    with connection.cursor() as cursor:
        cursor.execute("SELECT to_regclass('django_migrations') IS NOT NULL")
        (is_migrated,) = cursor.fetchone()
    applied = _applied() if is_migrated else frozenset()
    missing = sorted(f"{app}.{name}" for app, name in _in_the_program() - applied)
    return (f"Run migrate: {len(missing)} migrations are missing, first {missing[0]}.",) if missing else ()


def _applied() -> frozenset[tuple[str, str]]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT app, name FROM django_migrations")
        return frozenset((str(app), str(name)) for app, name in cursor.fetchall())


@cache
def _in_the_program() -> frozenset[tuple[str, str]]:
    """Every migration of the installed apps; they do not change while a process lives."""
    return frozenset(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
