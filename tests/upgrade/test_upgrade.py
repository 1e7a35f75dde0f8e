"""A database of each earlier release comes through `restore` and `migrate` whole, and its pages answer.

Its owner is one without rights on the server, whom the rules for rows bind.
"""

from __future__ import annotations

import gzip
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.db import connection

from core.database.programs import program
from tests.databases import plain_owner, run_on_server
from tests.upgrade.practice import CUSTOMER, SHOE
from tests.upgrade.schema import schema_of

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
DUMPS = sorted(HERE.glob("release_*.dump.gz"))
# Releases whose program cannot work with the present tables: an upgrade from them stops the application.
NEED_A_STOP = {"release_0_1.dump.gz"}

# One process, on a database of its own: a restore replaces the schema, which no transaction of a test could undo.
SCENARIO = """
import json
import sys
from pathlib import Path

import django

django.setup()
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.urls import reverse

from core.gate import row_scope
from core.models import User
from core.database import backup
from core.database.roles import as_owner, grant_application_role
from core.database.triggers import declared, installed
from fittings.models import Choice
from fittings.selectors.outcomes.courses import courses_apart
from labtests.models import BenchTest
from tests.upgrade.owner import kept_by_foreign_keys, seen_by_owner
from tests.upgrade.schema import schema_of
from tests.upgrade.statements import columns_of_tables, statements_that_work

backup.restore(Path(sys.argv[1]))
with as_owner():
    grant_application_role()
of_release = columns_of_tables()
worked = statements_that_work(of_release)
call_command("restore", sys.argv[1], "--no-input")
call_command("migrate", check_unapplied=True, verbosity=0)
there, known = installed(), declared()


def page(url, username=None):
    client = Client(headers={"host": "localhost"})
    if username:
        client.force_login(User.objects.get(username=username))
    answer = client.get(url)
    return [answer.status_code, answer.content.decode()]


with row_scope.everything():
    choice = Choice.objects.select_related("fitting").get()
    apart = courses_apart()
with connection.cursor() as cursor:
    cursor.execute(
        "SELECT table_name, column_name, is_nullable = 'NO' AND column_default IS NULL AND is_identity = 'NO'"
        " AND is_generated = 'NEVER' FROM information_schema.columns WHERE table_schema = 'public'"
    )
    columns = cursor.fetchall()
test = BenchTest.objects.filter(specimen__shoe__slug=sys.argv[2], state="approved").first()
found = {
    "triggers": set(there.triggers) == known.triggers and set(there.functions) == known.functions,
    "courses apart": apart,
    "columns": columns,
    "worked": sorted(worked),
    "stopped": sorted(worked - statements_that_work(of_release)),
    "seen by the owner": seen_by_owner("fittings_customer"),
    "kept": sorted(kept_by_foreign_keys("fittings_needrules", choice.fitting.rules_id)),
    "schema": schema_of(connection.cursor()),
    "pages": {
        "list": page(reverse("catalogue:shoe-list")),
        "test": page(reverse("labtests:test-detail", args=[test.pk]), "technician"),
        "fitting": page(reverse("fittings:fitting-detail", args=[choice.fitting_id]), "fitter-a"),
    },
}
print(json.dumps(found))
"""


@pytest.fixture(params=DUMPS, ids=lambda dump: dump.name)
def upgraded(request, tmp_path, django_db_setup):
    """One dump, and what the scenario printed of it, line by line."""
    plain = tmp_path / "release.dump"
    plain.write_bytes(gzip.decompress(request.param.read_bytes()))
    with plain_owner() as (user, url):
        run_on_server("GRANT benchlast_app TO {} WITH SET TRUE", user)
        # To leave out triggers for a moment: see statements.py.
        run_on_server("GRANT SET ON PARAMETER session_replication_role TO {}", user)
        done = subprocess.run(
            [sys.executable, "-c", SCENARIO, str(plain), SHOE],
            cwd=ROOT,
            env={**os.environ, "DATABASE_URL": url, "DEBUG": "1", "DJANGO_SETTINGS_MODULE": "config.settings"},
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 0, done.stderr
    return SimpleNamespace(lines=done.stdout.splitlines(), name=request.param.name, plain=plain)


def columns_in(dump):
    """Return the columns of each table in a dump."""
    command = [program("pg_restore"), "--data-only", "--file=-", str(dump)]
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return {
        table: set(names.split(", ")) for table, names in re.findall(r"^COPY public\.(\w+) \((.*)\) FROM", text, re.M)
    }


def in_the_way(before, after):
    """Return the columns that a program of the earlier tables misses, or doesn't know that it must fill."""
    there = {(table, column) for table, column, _ in after}
    gone = {(table, column) for table, columns in before.items() for column in columns} - there
    demanded = {(table, name) for table, name, must in after if must and name not in before.get(table, {name})}
    return gone | demanded


def test_there_is_a_dump_of_a_release():
    assert DUMPS


def test_database_of_a_release_is_whole_after_the_upgrade(upgraded, db):
    assert upgraded.lines[0].startswith("The audit trail is intact")
    found = json.loads(upgraded.lines[-1])
    # The tests' own database was made by the migrations that new installations begin with.
    new = schema_of(connection.cursor())
    assert {part: set(new[part]) ^ set(found["schema"][part]) for part in new} == {part: set() for part in new}
    assert found["triggers"]
    # The rules for rows bind the owner. Foreign keys are checked past them, so that hidden rows count.
    assert found["seen by the owner"] == {"": 0, "everything": 2}
    assert found["kept"] == ["fittings_fitting"]
    assert found["courses apart"] == []
    assert {name: status for name, (status, _) in found["pages"].items()} == {"list": 200, "test": 200, "fitting": 200}
    assert SHOE in found["pages"]["list"][1]
    assert SHOE in found["pages"]["test"][1]
    assert CUSTOMER in found["pages"]["fitting"][1]
    # Before the upgrade the release's statements work, or the comparison would say nothing.
    assert {"INSERT core_store", "UPDATE labtests_benchtest", "SELECT fittings_fitting"} <= set(found["worked"])
    stops = {*map(str, in_the_way(columns_in(upgraded.plain), found["columns"])), *found["stopped"]}
    assert bool(stops) == (upgraded.name in NEED_A_STOP), sorted(stops)
