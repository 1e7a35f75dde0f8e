"""A database of each earlier release comes through `restore` and `migrate` whole, its pages answer, and the program of
that release goes on with it.

Its owner is one without rights on the server, whom the rules for rows bind.
"""

from __future__ import annotations

import gzip
import json
import os
import re
import subprocess
import sys
import tarfile
import uuid
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.db import connection

from core.database.programs import program
from tests.databases import plain_owner, run_on_server
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.upgrade.practice import CUSTOMER, SHOE
from tests.upgrade.schema import schema_of

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
DUMPS = sorted(HERE.glob("release_*.dump.gz"))
# Releases whose program cannot work with the present tables: an upgrade from them stops the application.
NEED_A_STOP: set[str] = set()
# Tables that no program writes: triggers of the database do.
WRITTEN_BY_TRIGGERS = {"fittings_course"}
# Statements that say nothing of that program: the trail takes no entry with a past time, which a row of the dump has.
NOT_ITS_OWN = {
    "INSERT core_auditentry",
    *(f"{verb} {table}" for table in WRITTEN_BY_TRIGGERS for verb in ("INSERT", "UPDATE")),
}
SPECIMEN = "of-the-earlier-program"

# One process, on a database of its own: a restore replaces the schema, which no transaction of a test could undo.
SCENARIO = """
import json
import os
import subprocess
import sys
from pathlib import Path

import django

django.setup()
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.urls import reverse

from core.accounts.services import store_change
from core.audit.verification import faults
from core.gate import row_scope
from core.models import Store, User
from core.database import backup
from core.database.roles import as_owner, grant_application_role
from core.database.triggers import declared, installed
from fittings.models import Choice, Fitting
from fittings.selectors.outcomes.courses import courses_apart
from fittings.services import links_revoke
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
with row_scope.everything():
    # Somebody already works with today's program.
    links_revoke(actor=User.objects.get(username="fitter-a"), fitting=choice.fitting)
    store_change(actor=User.objects.get(username="office"), store=Store.objects.get(slug="store-a"), currency="EUR")
earlier = subprocess.run(
    [sys.executable, "-P", sys.argv[3], *sys.argv[5:]],
    cwd=sys.argv[4],
    env={**os.environ, "PYTHONPATH": sys.argv[4], "BENCHLAST_DATA": sys.argv[4]},
    capture_output=True,
    text=True,
)
found["earlier"] = {"code": earlier.returncode, "said": earlier.stdout.splitlines()[-1:], "errors": earlier.stderr}
with row_scope.everything():
    found["faults"] = [str(fault) for fault in faults()]
    newest = Fitting.objects.latest("pk").pk
found["pages"]["its fitting"] = page(reverse("fittings:fitting-detail", args=[newest]), "fitter-a")
print(json.dumps(found))
"""


@pytest.fixture(scope="module", params=DUMPS, ids=lambda dump: dump.name)
def upgraded(request, tmp_path_factory, django_db_setup, django_db_blocker):
    """One dump, and what the scenario printed of it, line by line."""
    folder = tmp_path_factory.mktemp("upgraded")
    plain, bench_file, program_folder = folder / "release.dump", folder / "bench.csv", folder / "program"
    plain.write_bytes(gzip.decompress(request.param.read_bytes()))
    with tarfile.open(request.param.with_name(request.param.name.replace(".dump.gz", ".program.tar.xz"))) as packed:
        packed.extractall(program_folder, filter="data")
    rows = curve_rows([(4.5 + d, 6.8 + d) for d in (-0.02, 0.0, 0.02)])
    bench_file.write_bytes(bench_bytes(rows, shoe=SHOE, specimen=SPECIMEN))
    earlier = [HERE / "earlier_program.py", program_folder, SHOE, bench_file, uuid.uuid4()]
    with django_db_blocker.unblock(), plain_owner() as (user, url):
        run_on_server("GRANT benchlast_app TO {} WITH SET TRUE", user)
        # To leave out triggers for a moment: see statements.py.
        run_on_server("GRANT SET ON PARAMETER session_replication_role TO {}", user)
        done = subprocess.run(
            [sys.executable, "-c", SCENARIO, str(plain), SHOE, *map(str, earlier)],
            cwd=ROOT,
            env={**os.environ, "DATABASE_URL": url, "DEBUG": "1", "DJANGO_SETTINGS_MODULE": "config.settings"},
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    return SimpleNamespace(lines=lines, found=json.loads(lines[-1]), name=request.param.name, plain=plain)


def columns_in(dump):
    """Return the columns of each table in a dump."""
    command = [program("pg_restore"), "--data-only", "--file=-", str(dump)]
    text = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    return {
        table: set(names.replace('"', "").split(", "))
        for table, names in re.findall(r"^COPY public\.(\w+) \((.*)\) FROM", text, re.M)
    }


def in_the_way(before, after):
    """Return the columns that a program of the earlier tables misses, or doesn't know that it must fill."""
    there = {(table, column) for table, column, _ in after}
    gone = {(table, column) for table, columns in before.items() for column in columns} - there
    known = {table: columns for table, columns in before.items() if table not in WRITTEN_BY_TRIGGERS}
    demanded = {(table, name) for table, name, must in after if must and name not in known.get(table, {name})}
    return gone | demanded


def test_there_is_a_dump_of_a_release():
    assert DUMPS


def test_database_of_a_release_is_whole_after_the_upgrade(upgraded, db):
    assert upgraded.lines[0].startswith("The audit trail is intact")
    found = upgraded.found
    # The tests' own database was made by the migrations that new installations begin with.
    new = schema_of(connection.cursor())
    assert {part: set(new[part]) ^ set(found["schema"][part]) for part in new} == {part: set() for part in new}
    assert found["triggers"]
    # The rules for rows bind the owner. Foreign keys are checked past them, so that hidden rows count.
    assert found["seen by the owner"] == {"": 0, "everything": 2}
    assert found["kept"] == ["fittings_fitting"]
    assert found["courses apart"] == []
    assert {name: status for name, (status, _) in found["pages"].items() if status != 200} == {}
    assert SHOE in found["pages"]["list"][1]
    assert SHOE in found["pages"]["test"][1]
    assert CUSTOMER in found["pages"]["fitting"][1]
    # Before the upgrade the release's statements work, or the comparison would say nothing.
    assert {"INSERT core_store", "UPDATE labtests_benchtest", "SELECT fittings_fitting"} <= set(found["worked"])
    stops = {*map(str, in_the_way(columns_in(upgraded.plain), found["columns"])), *found["stopped"]} - NOT_ITS_OWN
    assert bool(stops) == (upgraded.name in NEED_A_STOP), "\n".join(sorted(stops))


def test_program_of_the_release_goes_on_with_the_new_tables(upgraded):
    earlier = upgraded.found["earlier"]
    assert earlier["code"] == 0, earlier["errors"]
    day = json.loads(earlier["said"][0])
    assert {asked: status for asked, status in day["answers"].items() if status >= 400} == {}
    assert day["stored"] == {
        "customer": "Cleo Example",
        "tried": 1,
        "chosen": 1,
        "mail stopped": True,
        "answered": 2,
        "test": "approved",
        "card": 3,
        "calibrations": 1,
        "stock": 7,
        "shoe": 1,
    }
    # What it left is whole for today's program.
    assert upgraded.found["faults"] == []
    assert "Cleo Example" in upgraded.found["pages"]["its fitting"][1]
