"""The application's database role, and working as the owner where needed: migrations, restores, the test database."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings
from django.db import connection, transaction

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


def grant_application_role() -> None:
    """Create the application's role if it is missing and grant it access to rows, never to the structure.

    Run as the owner after every migration, so that new tables are covered. The role can read the audit trail and add
    to it, but cannot change it.
    """
    role = connection.ops.quote_name(settings.APPLICATION_ROLE)
    trail = connection.ops.quote_name("core_auditentry")
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [ROLE_LOCK])
        cursor.execute("SELECT 1 FROM pg_roles WHERE rolname = %s", [settings.APPLICATION_ROLE])
        if cursor.fetchone() is None:
            cursor.execute(f"CREATE ROLE {role} NOLOGIN NOSUPERUSER NOBYPASSRLS")
        cursor.execute("SELECT rolsuper FROM pg_roles WHERE rolname = current_user")
        if not cursor.fetchone()[0]:
            cursor.execute(f"GRANT {role} TO CURRENT_USER WITH SET TRUE")
        cursor.execute(f"GRANT USAGE ON SCHEMA public TO {role}")
        cursor.execute(f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {role}")
        cursor.execute(f"GRANT USAGE, SELECT, UPDATE ON ALL SEQUENCES IN SCHEMA public TO {role}")
        cursor.execute(f"REVOKE UPDATE, DELETE, TRUNCATE ON {trail} FROM {role}")
        cursor.execute(f"REVOKE INSERT, UPDATE, DELETE ON django_migrations FROM {role}")
