"""The application's database role, and working as the owner where needed: migrations, restores, the test database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.db import connection, transaction
from django.db.backends.utils import CursorWrapper

from core.domain.errors import DomainError

# Databases of one server share their roles: the lock prevents two migrations from creating the role at once.
ROLE_LOCK = 7_301_455_009


@contextmanager
def as_owner() -> Iterator[None]:
    """Reopen the default connection as the user that DATABASE_URL names, without the application's role."""
    options = connection.settings_dict["OPTIONS"]
    role = options.pop("options", None)
    connection.close()
    try:
        yield
    finally:
        connection.close()
        if role is not None:
            options["options"] = role


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
