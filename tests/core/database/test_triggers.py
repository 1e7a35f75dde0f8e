"""The database has the functions and triggers that the files declare, all of them and no others of ours."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction

from core.accounts.provisioning import store_create
from core.database.triggers import Trigger, declared, files, install_triggers, installed
from core.models import AuditEntry

# Put into the query that asks, which a function with settings of its own cannot be.
INLINED = {"fittings_courses_of"}
LEVEL_AND_TIMING = 1 | 2 | 64
EVENTS = (4, 8, 16, 32)


@pytest.fixture
def owner(db):
    """The owner of the database, in the test's transaction."""
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL ROLE NONE")
        yield cursor
        cursor.execute("SET LOCAL ROLE benchlast_app")


def rows(sql, *params):
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return cursor.fetchall()


def test_database_has_what_the_files_declare(db):
    there, known = installed(), declared()
    assert set(there.functions) == known.functions
    assert set(there.triggers) == known.triggers
    assert Trigger("core_auditentry", "core_audit_refuse_change") in known.triggers


def test_every_trigger_of_the_database_is_ours(db):
    names = rows(
        "SELECT relname, tgname FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid WHERE NOT tgisinternal"
    )
    assert {Trigger(*row) for row in names} == declared().triggers


def test_every_function_has_a_search_path_of_its_own(db):
    settings = dict(
        rows("SELECT proname, proconfig FROM pg_proc WHERE oid = ANY(%s)", [*installed().functions.values()])
    )
    assert settings.keys() > INLINED
    for name, given in settings.items():
        if name not in INLINED:
            assert "search_path=pg_catalog, public, pg_temp" in given, name


def test_function_without_a_search_path_names_its_tables_with_their_schema(db):
    sources = rows("SELECT prosrc FROM pg_proc WHERE proname = ANY(%s)", [*INLINED])
    tables = "|".join(model._meta.db_table for model in apps.get_models())
    for (source,) in sources:
        assert re.search(rf"\bpublic\.({tables})\b", source)
        assert not re.search(rf"(?<!\.)\b({tables})\b", source)


def test_at_most_one_trigger_of_a_table_fires_at_a_moment(db):
    """Of two, the names would say which comes first."""
    moments = Counter(
        (table, kind & LEVEL_AND_TIMING, event)
        for table, kind in rows("SELECT tgrelid, tgtype FROM pg_trigger WHERE NOT tgisinternal")
        for event in EVENTS
        if kind & event
    )
    assert moments
    assert max(moments.values()) == 1


@pytest.mark.parametrize("file", files(), ids=lambda file: f"{file.parts[-3]}/{file.name}")
def test_file_says_what_it_guards_and_can_be_run_again(file):
    text = file.read_text(encoding="utf-8")
    assert text.startswith("-- ")
    code = re.sub(r"--.*", "", re.sub(r"\$\$.*?\$\$", "", text, flags=re.DOTALL))
    statements = [statement.strip() for statement in code.split(";")]
    assert statements.pop() == ""
    assert statements
    for statement in statements:
        assert re.match("CREATE OR REPLACE (FUNCTION|TRIGGER) ", statement)


def test_what_no_file_declares_any_more_is_dropped(owner):
    owner.execute("CREATE FUNCTION core_old() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'")
    owner.execute("CREATE TRIGGER core_old BEFORE UPDATE ON core_store FOR EACH ROW EXECUTE FUNCTION core_old()")
    owner.execute("CREATE TRIGGER old BEFORE DELETE ON core_user FOR EACH ROW EXECUTE FUNCTION core_audit_refuse()")
    owner.execute("CREATE FUNCTION catalogue_revise(times integer) RETURNS void LANGUAGE sql AS ''")
    owner.execute("CREATE FUNCTION somebody_elses() RETURNS void LANGUAGE sql AS ''")
    install_triggers()
    test_database_has_what_the_files_declare(None)
    assert rows("SELECT 1 FROM pg_proc WHERE proname = 'somebody_elses'")


def test_what_was_changed_or_lost_is_as_the_files_have_it(owner):
    body = "LANGUAGE plpgsql AS 'BEGIN RETURN OLD; END'"
    owner.execute(f"CREATE OR REPLACE FUNCTION core_audit_refuse() RETURNS trigger {body}")
    owner.execute("DROP TRIGGER core_audit_chain ON core_auditentry")
    owner.execute("DROP FUNCTION catalogue_note_shoes(bigint[])")
    owner.execute("CREATE FUNCTION catalogue_note_shoes(shoes bigint[]) RETURNS void LANGUAGE sql AS ''")
    install_triggers()
    test_database_has_what_the_files_declare(None)
    store_create(actor=None, slug="quay", name="Quay")
    with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
        owner.execute("DELETE FROM core_auditentry")


@pytest.mark.parametrize("role", ["benchlast_app", "NONE"])
def test_flush_is_refused_whoever_asks(db, role):
    entries = AuditEntry.objects.count()
    with connection.cursor() as cursor:
        cursor.execute(f"SET LOCAL ROLE {role}")
        with pytest.raises(CommandError):
            call_command("flush", interactive=False, verbosity=0)
        cursor.execute("SET LOCAL ROLE benchlast_app")
    assert AuditEntry.objects.count() == entries > 0
    test_database_has_what_the_files_declare(None)
