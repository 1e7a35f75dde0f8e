"""Migrating beside a served application: one at a time, no long waits, and no moment without the rules for rows."""

from __future__ import annotations

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from core.database import migrating
from core.gate import row_scope
from fittings.models import Customer
from tests.databases import committed_database, server, url_of

TABLE = Customer._meta.db_table


@pytest.fixture
def owner(db):
    """The owner of the database, in the test's transaction."""
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL ROLE NONE")
        yield cursor
        cursor.execute("SET LOCAL ROLE benchlast_app")


@pytest.fixture
def changes(db):
    """The statements that change policies, each with how deep it was in transactions below the test's own."""
    noted, depth = [], len(connection.savepoint_ids)

    def note(execute, sql, params, many, context):
        if "POLICY" in sql or "SECURITY" in sql:
            noted.append((sql.partition(" ")[0], len(connection.savepoint_ids) - depth))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        yield noted


def policies(cursor):
    cursor.execute(
        "SELECT policyname, permissive, cmd, qual, with_check FROM pg_policies WHERE tablename = %s ORDER BY 1", [TABLE]
    )
    return cursor.fetchall()


def test_policies_that_have_not_changed_are_left_alone(owner, changes):
    row_scope.install_policies()
    assert changes == []


@pytest.mark.parametrize(
    "damage",
    [
        f"ALTER POLICY rows_in_scope ON {TABLE} USING (true)",
        f"DROP POLICY rows_in_scope ON {TABLE}",
        f"DROP POLICY figures_no_update ON {TABLE}",
        f"ALTER TABLE {TABLE} DISABLE ROW LEVEL SECURITY",
        f"ALTER TABLE {TABLE} NO FORCE ROW LEVEL SECURITY",
        f"COMMENT ON POLICY rows_in_scope ON {TABLE} IS 'of an earlier release'",
    ],
)
def test_changed_policy_is_replaced_in_one_transaction(owner, changes, damage):
    before = policies(owner)
    owner.execute(damage)
    changes.clear()
    row_scope.install_policies()
    assert policies(owner) == before
    assert changes == [("ALTER", 1), *[("DROP", 1), ("CREATE", 1)] * 4, ("COMMENT", 1)]
    owner.execute("SELECT relrowsecurity, relforcerowsecurity FROM pg_class WHERE relname = %s", [TABLE])
    assert owner.fetchone() == (True, True)


@pytest.fixture
def other(django_db_setup, django_db_blocker):
    """Another connection to a database in which things are committed."""
    for _ in committed_database(django_db_setup, django_db_blocker):
        with psycopg.connect(url_of(server(), connection.settings_dict["NAME"])) as opened:
            yield opened


def test_migrate_gives_up_on_a_table_in_use_and_can_be_run_again(other):
    other.execute(f"COMMENT ON POLICY rows_in_scope ON {TABLE} IS 'of an earlier release'")
    other.commit()
    other.execute(f"SELECT count(*) FROM {TABLE}")
    with pytest.raises(CommandError, match=r"could not be locked within 0\.1 seconds"):
        call_command("migrate", lock_timeout=0.1, verbosity=0)
    other.rollback()
    call_command("migrate", verbosity=0)
    comments = other.execute("SELECT obj_description(oid, 'pg_policy') FROM pg_policy").fetchall()
    assert len(comments) > 1
    assert ("of an earlier release",) not in comments


def test_migrate_waits_for_another_one(other, monkeypatch):
    other.execute("SELECT pg_advisory_lock(%s)", [migrating.LOCK])
    monkeypatch.setattr(migrating, "TURN_TIMEOUT_S", 0.1)
    with pytest.raises(CommandError, match="Another process has been migrating"):
        call_command("migrate", verbosity=0)
