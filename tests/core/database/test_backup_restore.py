"""A backup brings everything back, as an owner whom the rules for rows bind; a file that is none changes nothing."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import psycopg

from config.embedded import DATABASE
from tests.databases import practice_of_plain_owner, server, url_of

ROOT = Path(__file__).parents[3]

# One process, on a database of its own: a restore replaces the schema, which no transaction of a test could undo.
SCENARIO = """
import sys
from pathlib import Path

import django

django.setup()
from django.db import connection
from django.utils import timezone
from core.audit import Change, record_many
from core.database import roles
from core.database.roles import as_owner
from core.gate import row_scope
from django.core.management import CommandError, call_command
from core.audit.verification import head, contains
from core.models import Store
from core.accounts.provisioning import store_create
from core.database.triggers import declared, installed
from fittings.models import Customer

file, no_backup = sys.argv[-2:]
store = store_create(actor=None, slug="first", name="First")
with row_scope.everything():
    customer = Customer.objects.create(store=store, name="Ada Example", created_at=timezone.now())
    record_many([Change("fittings.customer.created", customer, store=store)], actor=None)
options, check = roles.OWNER_OPTIONS, roles._require_every_row
# A pooler that ignores options; then as if that had not been noticed in time.
for roles.OWNER_OPTIONS, roles._require_every_row in (("", check), ("", lambda: None)):
    try:
        call_command("backup", file)
    except CommandError as problem:
        print("rows would be missing:", problem)
roles.OWNER_OPTIONS, roles._require_every_row = options, check
kept = str(head())
call_command("backup", file)
print("mode:", oct(Path(file).stat().st_mode & 0o777))
call_command("backup", file, "--verify")
store_create(actor=None, slug="second", name="Second")
half = Path(file).with_suffix(".half")
half.write_bytes(Path(file).read_bytes()[:-200])
for name, option in ((str(half), []), (str(half), ["--verify"])):
    try:
        call_command("backup" if option else "restore", name, *(option or ["--no-input"]))
    except CommandError as problem:
        print("half a file is refused:", bool(str(problem)))
try:
    call_command("restore", file)
except CommandError as problem:
    print("not asked:", problem)
try:
    call_command("restore", no_backup, "--no-input")
except CommandError as problem:
    print("refused:", str(problem).splitlines()[-1])
print("stores after the refusal:", Store.objects.count())
call_command("restore", file, "--no-input")
with connection.cursor() as cursor:
    cursor.execute("SELECT min(last_value) FROM pg_sequences WHERE sequencename IN ('fittings_fitting_id_seq', "
                   "'fittings_customer_id_seq')")
    print("first number that a link can have now:", cursor.fetchone()[0])
print("leftovers:", sorted(path.suffix for path in Path(file).parent.iterdir()))
print("stores after the restore:", Store.objects.count(), "expected head there:", contains(kept))
with row_scope.everything():
    print("customers after the restore:", Customer.objects.count())
print("triggers are those of the files:", set(installed().triggers) == declared().triggers)
store_create(actor=None, slug="third", name="Third")
print("stores after going on:", Store.objects.count())
with as_owner(), connection.cursor() as cursor:
    cursor.execute("INSERT INTO django_migrations (app, name, applied) VALUES ('core', '9999_later', now())")
call_command("backup", file)
with as_owner(), connection.cursor() as cursor:
    cursor.execute("DELETE FROM django_migrations WHERE name = '9999_later'")
try:
    call_command("restore", file, "--no-input")
except CommandError as problem:
    print("newer:", str(problem).splitlines()[0])
"""


def schema_of_the_owner():
    """Identify the schema of the database that trying a backup would replace if it used the owner's address."""
    with psycopg.connect(url_of(server(), DATABASE)) as opened:
        return opened.execute("SELECT oid FROM pg_namespace WHERE nspname = 'public'").fetchone()


def test_restore_brings_back_what_the_backup_held(tmp_path, django_db_setup):
    with practice_of_plain_owner() as url:
        urls = {"DATABASE_URL": url, "MIGRATE_DATABASE_URL": url}
        before = schema_of_the_owner()
        done = subprocess.run(
            [sys.executable, "-c", SCENARIO, str(tmp_path / "kept.backup"), __file__],
            cwd=ROOT,
            env={**os.environ, **urls, "DEBUG": "1", "DJANGO_SETTINGS_MODULE": "config.settings"},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )
        assert schema_of_the_owner() == before
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert "mode: 0o600" in lines
    assert any("is complete: " in line for line in lines)
    assert lines.count("half a file is refused: True") == 2
    assert "leftovers: ['.backup', '.half']" in lines
    assert "first number that a link can have now: 100001" in lines
    assert any(line.startswith("newer: The backup is from a newer version") for line in lines)
    assert any(line.startswith("not asked: ") and "Add --no-input" in line for line in lines)
    assert "refused: Nothing was changed." in lines
    assert "stores after the refusal: 2" in lines
    assert any(line.startswith("The audit trail is intact") for line in lines)
    assert "stores after the restore: 1 expected head there: True" in lines
    assert "customers after the restore: 1" in lines
    unnoticed, compared = [line for line in lines if line.startswith("rows would be missing: ")]
    assert "would not see the rows about people" in unnoticed
    assert "fittings_customer: 0 of 1 rows" in compared
    assert "triggers are those of the files: True" in lines
    assert "stores after going on: 2" in lines
