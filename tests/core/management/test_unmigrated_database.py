"""On a database that was not migrated every command says in a sentence what to run, and exits with 1."""

from __future__ import annotations

import pytest
from django.core.management import get_commands
from django.db import ProgrammingError, connection
from psycopg.errors import UndefinedTable

from core.management.commands import serve
from core.management.run import run, sentence
from tests.databases import drop_database, run_on_server

APPS = ("core", "catalogue", "labtests", "fittings", "fixtures")
ARGUMENTS = {"backup": ["unmigrated.dump"], "issue_token": ["technician"]}
GOES_ON = {
    "migrate": "does it",
    "restore": "fills an empty database",
    "serve": "says so, below, and answers 503 until the migrations are there (docs/operating.md)",
}
OURS = sorted(name for name, app in get_commands().items() if app in APPS)


@pytest.fixture(scope="module")
def empty_database(django_db_setup, django_db_blocker):
    """A database without tables, in the place of the test database."""
    name = str(connection.settings_dict["NAME"])
    empty = f"{name}_empty"
    with django_db_blocker.unblock():
        connection.close()
        drop_database(empty)
        run_on_server("CREATE DATABASE {}", empty)
        connection.settings_dict["NAME"] = empty
        yield
        connection.close()
        connection.settings_dict["NAME"] = name
        drop_database(empty)


@pytest.mark.parametrize("name", [name for name in OURS if name not in GOES_ON])
def test_command_says_what_to_run(empty_database, name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as ended:
        run(["manage.py", name, *ARGUMENTS.get(name, [])])
    # A text as the code: Python prints it and exits with 1.
    assert str(ended.value.code).startswith("The database was not migrated. Run `manage.py migrate`")
    assert "migrations are missing, first" in str(ended.value.code)
    assert list(tmp_path.iterdir()) == []


def test_server_says_so_and_goes_on(empty_database, capsys):
    serve.Command()._say_what_is_missing()
    assert "Run migrate: " in capsys.readouterr().err


def test_missing_role_is_said_in_the_same_words(empty_database, settings, monkeypatch):
    """Before the first migration on a server nobody can work as the application's role."""
    settings.APPLICATION_ROLE = "not_made_yet"
    monkeypatch.setitem(connection.settings_dict["OPTIONS"], "options", "-c role=not_made_yet")
    connection.close()
    with pytest.raises(SystemExit, match=r"Run `manage\.py migrate`"):
        run(["manage.py", "verify_audit"])


def test_database_that_is_away_is_a_sentence(empty_database, monkeypatch):
    connection.close()
    monkeypatch.setitem(connection.settings_dict, "HOST", "/nowhere")
    with pytest.raises(SystemExit, match=r"The database cannot be reached: .*nowhere"):
        run(["manage.py", "verify_audit"])
    connection.close()


def test_fault_of_the_program_stays_a_traceback(monkeypatch):
    """Where all migrations are there, another word would hide it."""
    monkeypatch.setattr("core.management.run.migration_problems", lambda: ())
    problem = ProgrammingError('relation "no_such_table" does not exist')
    problem.__cause__ = UndefinedTable()
    assert sentence(problem) is None
