"""Whether this process can do its work: database, role, migrations, primary or standby."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

from django.conf import settings
from django.db import Error, connection
from django.db.migrations.loader import MigrationLoader

from core.database.replicas import ReplicaState, watch
from core.database.roles import WrongRoleError


@dataclass(frozen=True, slots=True)
class Readiness:
    """What was found; `problems` is empty where the application is ready.

    `standby_lag_s`: seconds since the last change that a standby has replayed, 0 where it has replayed all that it has
    received, None on a primary. `replicas` are those that visitors' reads may go to, as they were at the last look.
    """

    problems: tuple[str, ...]
    database: str = "unreachable"
    standby_lag_s: float | None = None
    replicas: tuple[ReplicaState, ...] = ()

    @property
    def is_ready(self) -> bool:
        return not self.problems

    def as_json(self) -> dict[str, Any]:
        return {"status": "ready" if self.is_ready else "not ready", **asdict(self)}


_STATE = """
SELECT current_user::text, pg_is_in_recovery(), CASE
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
            cursor.execute(_STATE)
            role, is_standby, lag = cursor.fetchone()
            cursor.execute("SELECT to_regclass('django_migrations') IS NOT NULL")
            (has_migrations,) = cursor.fetchone()
            applied = _applied() if has_migrations else frozenset()
    except WrongRoleError as problem:
        return Readiness((str(problem),), "unusable", replicas=replicas)
    except Error:
        is_readable = any(state.is_usable for state in replicas)
        return Readiness(() if is_readable else ("The database cannot be reached.",), replicas=replicas)
    problems = (*_role_problems(role), *_migration_problems(applied))
    return Readiness(problems, "standby" if is_standby else "primary", lag, replicas)


def _role_problems(role: str) -> tuple[str, ...]:
    if role == settings.APPLICATION_ROLE:
        return ()
    return (f"The application works as the database user {role}, not as {settings.APPLICATION_ROLE}.",)


def _migration_problems(applied: frozenset[tuple[str, str]]) -> tuple[str, ...]:
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
