"""A database of each earlier release comes through `restore` and `migrate` whole, and its pages answer."""

from __future__ import annotations

import gzip
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.databases import own_database
from tests.upgrade.practice import CUSTOMER, SHOE

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
DUMPS = sorted(HERE.glob("release_*.dump.gz"))

# One process, on a database of its own: a restore replaces the schema, which no transaction of a test could undo.
SCENARIO = """
import json
import sys

import django

django.setup()
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from core.gate import row_scope
from core.models import User
from core.database.triggers import declared, installed
from fittings.models import Choice
from fittings.selectors.courses import courses_apart
from labtests.models import BenchTest

call_command("restore", sys.argv[1])
call_command("migrate", check_unapplied=True, verbosity=0)
there, known = installed(), declared()


def page(url, username=None):
    client = Client(headers={"host": "localhost"})
    if username:
        client.force_login(User.objects.get(username=username))
    answer = client.get(url)
    return [answer.status_code, answer.content.decode()]


with row_scope.everything():
    choice = Choice.objects.get()
    apart = courses_apart()
test = BenchTest.objects.filter(specimen__shoe__slug=sys.argv[2], state="approved").first()
found = {
    "triggers": set(there.triggers) == known.triggers and set(there.functions) == known.functions,
    "courses apart": apart,
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
    """What the scenario printed of one dump, line by line."""
    plain = tmp_path / "release.dump"
    plain.write_bytes(gzip.decompress(request.param.read_bytes()))
    with own_database() as url:
        done = subprocess.run(
            [sys.executable, "-c", SCENARIO, str(plain), SHOE],
            cwd=ROOT,
            env={**os.environ, "DATABASE_URL": url, "DEBUG": "1", "DJANGO_SETTINGS_MODULE": "config.settings"},
            capture_output=True,
            text=True,
            check=False,
        )
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_there_is_a_dump_of_a_release():
    assert DUMPS


def test_database_of_a_release_is_whole_after_the_upgrade(upgraded):
    assert upgraded[0].startswith("The audit trail is intact")
    found = json.loads(upgraded[-1])
    assert found["triggers"]
    assert found["courses apart"] == []
    assert {name: status for name, (status, _) in found["pages"].items()} == {"list": 200, "test": 200, "fitting": 200}
    assert SHOE in found["pages"]["list"][1]
    assert SHOE in found["pages"]["test"][1]
    assert CUSTOMER in found["pages"]["fitting"][1]
