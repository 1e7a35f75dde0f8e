"""`migrate` as a plain owner of a database, on a server where the application's role is an administrator's business."""

from __future__ import annotations

import os
import subprocess
import sys
import uuid
from copy import deepcopy
from pathlib import Path

import psycopg
import pytest
from django.db import connection
from psycopg import sql

from core.database.programs import environment
from core.database.roles import WrongRoleError, owner_params
from core.gate import row_scope
from core.operations.readiness import readiness
from tests.databases import PASSWORD, own_database, plain_owner, run_on_server, server, url_of

ROOT = Path(__file__).parents[3]


def admin(statement, *names):
    run_on_server(statement, *names)


def migrate(url, role, *options):
    return run(url, role, "migrate", "--verbosity", "0", *options)


def run(url, role, *command):
    """Run a command in a process whose application role has a name of its own: roles belong to the whole server."""
    script = f"""
import django
import django.core.management
from django.conf import settings

settings.APPLICATION_ROLE = {role!r}
settings.DATABASES["default"]["OPTIONS"]["options"] = "-c role={role} -c benchlast.zone=UTC"
django.setup()
django.core.management.execute_from_command_line(["manage.py", *{command!r}])
"""
    return subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env={**os.environ, "DATABASE_URL": url, "DEBUG": "1", "DJANGO_SETTINGS_MODULE": "config.settings"},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def role(django_db_setup, django_db_blocker):
    name = f"app_{uuid.uuid4().hex[:8]}"
    with django_db_blocker.unblock():
        yield name
        admin("DROP ROLE IF EXISTS {}", name)


BINDS_THE_OWNER = "SELECT relname FROM pg_class WHERE relkind = 'r' AND row_security_active(oid)"


def tables(url):
    with psycopg.connect(url) as opened:
        return opened.execute("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'").fetchone()[0]


def test_owner_without_rights_gets_the_statements_and_nothing_is_migrated(role):
    with plain_owner() as (user, url):
        done = migrate(url, role)
        assert done.returncode == 1
        assert f'CREATE ROLE "{role}" NOLOGIN NOSUPERUSER NOBYPASSRLS; GRANT "{role}" TO {user}' in done.stderr
        assert "Traceback" not in done.stderr
        assert tables(url) == 0


def test_role_that_somebody_else_created_must_be_granted(role):
    admin("CREATE ROLE {} NOLOGIN", role)
    with plain_owner() as (user, url):
        done = migrate(url, role)
        assert (done.returncode, tables(url)) == (1, 0)
        assert "CREATE ROLE" not in done.stderr
        assert f'GRANT "{role}" TO {user} WITH SET TRUE' in done.stderr


def test_plain_owner_migrates_once_the_statements_were_run(role):
    admin("CREATE ROLE {} NOLOGIN NOSUPERUSER NOBYPASSRLS", role)
    with plain_owner() as (user, url):
        admin("GRANT {} TO {} WITH SET TRUE", role, user)
        done = migrate(url, role)
        assert done.returncode == 0, done.stderr
        with psycopg.connect(url) as opened:
            bound = {table for (table,) in opened.execute(BINDS_THE_OWNER)}
            assert bound == {item.model._meta.db_table for item in row_scope.protected()}
            opened.execute(sql.SQL("SET ROLE {}").format(sql.Identifier(role)))
            assert opened.execute("SELECT count(*) FROM catalogue_scale").fetchone()[0]
            with pytest.raises(psycopg.errors.InsufficientPrivilege):
                opened.execute("DELETE FROM core_auditentry")


def test_owner_who_may_create_roles_needs_no_administrator(role):
    with plain_owner(creates_roles=True) as (user, url):
        done = migrate(url, role, "--plan")
        assert done.returncode == 0, done.stderr
        with psycopg.connect(url) as opened:
            assert opened.execute("SELECT pg_has_role(%s, %s, 'SET')", [user, role]).fetchone() == (True,)


def test_connection_that_was_given_another_role_is_refused(db, monkeypatch):
    other = connection.copy()
    del other.settings_dict["OPTIONS"]["options"]
    with pytest.raises(WrongRoleError, match=r"let the application work as \w+ and not as benchlast_app"):
        other.ensure_connection()
    assert other.connection is None
    monkeypatch.setattr("core.operations.readiness.connection", other)
    state = readiness()
    assert not state.is_ready
    assert "not as benchlast_app" in state.problems[0]


def test_owner_is_the_user_of_the_address_for_migrations_where_there_is_one(settings):
    safe = {"sslmode": "verify-full", "sslcrl": "/etc/ssl/revoked.pem", "options": "-c role=benchlast_app"}
    login = {"USER": "keeper", "PASSWORD": "secret", "HOST": "direct", "PORT": 5433}
    settings.OWNER_DATABASE = {"NAME": "other", **login, "OPTIONS": safe}
    name, before = connection.settings_dict["NAME"], deepcopy(connection.settings_dict)
    params = owner_params()
    assert {key: params[key] for key in ("dbname", "user", "password", "host", "port")} == {
        "dbname": name,
        "user": "keeper",
        "password": "secret",
        "host": "direct",
        "port": 5433,
    }
    # Not the application's role, but every row in scope, in programs as well.
    assert params["options"] == environment()["PGOPTIONS"] == "-c benchlast.reach=everything"
    for_programs = environment()
    assert for_programs["PGUSER"] == "keeper"
    assert (for_programs["PGSSLMODE"], for_programs["PGSSLCRL"]) == ("verify-full", "/etc/ssl/revoked.pem")
    assert safe["options"]
    assert connection.settings_dict == before


@pytest.mark.parametrize("command", [("migrate", "--verbosity", "0"), ("backup", "never.dump")])
def test_user_who_owns_nothing_is_shown_the_setting(role, tmp_path, command):
    admin("CREATE ROLE {} NOLOGIN", role)
    with own_database() as url, plain_owner() as (user, _):
        admin("GRANT {} TO {} WITH SET TRUE", role, user)
        with psycopg.connect(url) as opened:
            opened.execute(sql.SQL("GRANT ALL ON ALL TABLES IN SCHEMA public TO {}").format(sql.Identifier(role)))
        mine = url_of({**server(), "user": user, "password": PASSWORD}, url.rpartition("/")[2])
        done = run(mine, role, *command[:1], *(str(tmp_path / part) if "." in part else part for part in command[1:]))
    assert done.returncode == 1
    assert f"The database user {user} does not own the tables" in done.stderr
    assert "Set MIGRATE_DATABASE_URL" in done.stderr
    assert "Traceback" not in done.stderr
    assert not list(tmp_path.iterdir())


def test_application_role_makes_no_temporary_tables(db):
    # One of them would come before a real table of its name.
    with pytest.raises(psycopg.errors.InsufficientPrivilege), connection.cursor().cursor as cursor:
        cursor.execute("CREATE TEMPORARY TABLE core_user (id bigint)")
