"""The application's database role, and working as the owner where needed: migrations, restores, the test database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.conf import settings
from django.db import OperationalError, connection, transaction
from django.db.backends.signals import connection_created
from django.db.backends.utils import CursorWrapper

from core.domain.errors import DomainError

# Databases of one server share their roles: the lock prevents two migrations from creating the role at once.
ROLE_LOCK = 7_301_455_009

_LOGIN = ("USER", "PASSWORD", "HOST", "PORT")

# The rules for rows about people (core/gate/row_scope.py) bind the owner as well: this is what its sessions start with.
_REACH = "benchlast.reach"
OWNER_OPTIONS = f"-c {_REACH}=everything"

_is_owner: ContextVar[bool] = ContextVar("is_owner", default=False)


def is_owner() -> bool:
    """Return whether this is inside `as_owner`."""
    return _is_owner.get()


class WrongRoleError(OperationalError):
    """The server gave a connection another role than the application's."""


def _refuse_other_roles(*, connection: Any, **kwargs: Any) -> None:
    """Close a new connection that does not work as the application's role: the owner can change trail and rules.

    A pooler in front of the server may ignore the role that the connection asks for.
    """
    if _is_owner.get() or connection.vendor != "postgresql":
        return
    if settings.DATABASE_POOLING == "transaction":
        _refuse_owners(connection)
        return
    (user,) = connection.connection.execute("SELECT current_user::text").fetchone()
    if user == settings.APPLICATION_ROLE:
        return
    connection.close()
    raise WrongRoleError(
        f"The server let the application work as {user} and not as {settings.APPLICATION_ROLE}. A pooler between them "
        "must pass startup options on. For one that does not, such as pgbouncer, set DATABASE_POOLING=transaction."
    )


_SEES_EVERY_ROW = """
SELECT current_user::text, rolbypassrls OR EXISTS (
    SELECT FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r'
        AND pg_has_role(current_user, relowner, 'USAGE')
) FROM pg_roles WHERE rolname = current_user
"""


def _refuse_owners(connection: Any) -> None:
    """Close a new connection whose user sees every row, where each statement sets the role for itself.

    A statement that misses its settings must see too little and not too much.
    """
    user, sees_every_row = connection.connection.execute(_SEES_EVERY_ROW).fetchone()
    if not sees_every_row:
        return
    connection.close()
    raise WrongRoleError(
        f"The database user {user} owns the tables or sees every row, which must not be so with "
        f"DATABASE_POOLING=transaction. Let DATABASE_URL name a user who is a member of {settings.APPLICATION_ROLE} "
        "and nothing else, and MIGRATE_DATABASE_URL the owner."
    )


connection_created.connect(_refuse_other_roles, dispatch_uid="core.database.roles")


@contextmanager
def as_owner(*, lock_timeout_s: float = 0) -> Iterator[None]:
    """Reopen the default connection as the owner, without the application's role and with every row in scope.

    The owner is the user of MIGRATE_DATABASE_URL, or that of DATABASE_URL where there is no such setting.

    Parameters
    ----------
    lock_timeout_s : how long a statement waits for a lock, in seconds; 0 for as long as it takes
    """
    token = _is_owner.set(True)
    connection.close()
    try:
        with _owner_settings():
            if lock_timeout_s:
                connection.settings_dict["OPTIONS"]["options"] += f" -c lock_timeout={round(lock_timeout_s * 1000)}"
            yield
    finally:
        connection.close()
        _is_owner.reset(token)


def owner_params() -> dict[str, Any]:
    """Return how to connect as the owner."""
    with _owner_settings():
        params: dict[str, Any] = connection.get_connection_params()
    return params


@contextmanager
def _owner_settings() -> Iterator[None]:
    current = connection.settings_dict
    options = current["OPTIONS"]
    before, options_before = {name: current[name] for name in _LOGIN}, {**options}
    owner = settings.OWNER_DATABASE
    # The name is left: restores and tests work in databases of other names.
    current.update({name: owner[name] for name in _LOGIN if name in owner})
    # Whoever holds on to the options must see them change, too.
    _replace(options, {**owner.get("OPTIONS", options_before), "options": OWNER_OPTIONS})
    try:
        yield
    finally:
        current.update(before)
        _replace(options, options_before)


def _replace(options: dict[str, Any], wanted: dict[str, Any]) -> None:
    options.clear()
    options.update(wanted)


def prepare_application_role() -> None:
    """Make sure that the application's role exists and that the current user may work as it; run before migrations.

    Raises
    ------
    DomainError
        If the current user may not do this, with the statements for an administrator of the server to run.
    """
    name = settings.APPLICATION_ROLE
    role = connection.ops.quote_name(name)
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [ROLE_LOCK])
        cursor.execute(
            "SELECT rolsuper, rolcreaterole, quote_ident(current_user),"
            " EXISTS (SELECT FROM pg_roles WHERE rolname = %s) FROM pg_roles WHERE rolname = current_user",
            [name],
        )
        is_superuser, may_create, user, exists = cursor.fetchone()
        if exists and (is_superuser or _may_become(cursor, name)):
            return
        if exists or not (is_superuser or may_create):
            create = "" if exists else f"CREATE ROLE {role} NOLOGIN NOSUPERUSER NOBYPASSRLS; "
            raise DomainError(
                f"The database user {user} may not work as the role {name}. Let an administrator of the PostgreSQL "
                f"server run once, in psql: {create}GRANT {role} TO {user} WITH SET TRUE; then run migrate again.",
                code="role_missing",
            )
        cursor.execute(f"CREATE ROLE {role} NOLOGIN NOSUPERUSER NOBYPASSRLS")
        if not is_superuser:
            cursor.execute(f"GRANT {role} TO CURRENT_USER WITH SET TRUE")


def require_owner_address() -> None:
    """Refuse to work as the owner through a pooler of transactions, before it refuses the owner's options.

    Raises
    ------
    DomainError
        With the setting to change.
    """
    if settings.DATABASE_POOLING == "transaction" and not settings.OWNER_DATABASE:
        raise DomainError(
            "Migrations, backups and restores cannot go through a pooler of transactions. Set MIGRATE_DATABASE_URL to "
            "the address of the server itself, as the owner of the database.",
            code="pooler",
        )


def require_owner() -> None:
    """Refuse a user who does not own the tables that there are, or would not see all rows of them.

    Statements on tables of others would fail one by one. Rows that are out of scope would be left out in silence.

    Raises
    ------
    DomainError
        If the tables belong to another user, or if the owner's address leads to a pooler of transactions or to one
        that ignores startup options; with the setting to change.
    """
    require_owner_address()
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT quote_ident(current_user), tableowner FROM pg_tables WHERE schemaname = 'public'"
            " AND tablename = 'django_migrations' AND NOT pg_has_role(current_user, tableowner, 'USAGE')"
        )
        row = cursor.fetchone()
    if row is not None:
        user, owner = row
        raise DomainError(
            f"The database user {user} does not own the tables; {owner} does. Set MIGRATE_DATABASE_URL to the same "
            "database as that user.",
            code="not_owner",
        )
    _require_every_row()


def _require_every_row() -> None:
    """Refuse a session that the rules for rows bind and in which the option that lifts them has no effect."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT quote_ident(current_user),"
            " rolsuper OR rolbypassrls OR current_setting(%s, true) IS NOT DISTINCT FROM 'everything'"
            " FROM pg_roles WHERE rolname = current_user",
            [_REACH],
        )
        user, sees_every_row = cursor.fetchone()
    if not sees_every_row:
        raise DomainError(
            f"The database user {user} would not see the rows about people, because the server did not get the startup "
            f"option {OWNER_OPTIONS!r}. A pooler between them may ignore options. Set MIGRATE_DATABASE_URL to the "
            "address of the server itself.",
            code="option_ignored",
        )


def _may_become(cursor: CursorWrapper, role: str) -> bool:
    cursor.execute("SELECT pg_has_role(current_user, %s, 'SET')", [role])
    (may,) = cursor.fetchone()
    return bool(may)


def grant_application_role() -> None:
    """Grant the application's role access to rows, never to the structure.

    Run as the owner after every migration, so that new tables are covered. The role can read the audit trail and add
    to it, but cannot change it.
    """
    role = connection.ops.quote_name(settings.APPLICATION_ROLE)
    trail = connection.ops.quote_name("core_auditentry")
    with transaction.atomic(), connection.cursor() as cursor:
        # Migrations of two databases on one server would otherwise both write to the role's entry in the catalogue.
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [ROLE_LOCK])
        cursor.execute(f"GRANT USAGE ON SCHEMA public TO {role}")
        cursor.execute(f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {role}")
        cursor.execute(f"GRANT USAGE, SELECT, UPDATE ON ALL SEQUENCES IN SCHEMA public TO {role}")
        cursor.execute(f"REVOKE UPDATE, DELETE, TRUNCATE ON {trail} FROM {role}")
        cursor.execute(f"REVOKE INSERT, UPDATE, DELETE ON django_migrations FROM {role}")
        # A temporary table would come before a real one of the same name where a query does not name the schema.
        database = connection.ops.quote_name(str(connection.settings_dict["NAME"]))
        cursor.execute(f"REVOKE TEMPORARY ON DATABASE {database} FROM PUBLIC, {role}")
