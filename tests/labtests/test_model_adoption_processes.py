"""An adoption killed in its midst, and several people at once: in processes of their own on a database of their own."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import uuid
from pathlib import Path

import psycopg
import pytest

ROOT = Path(__file__).resolve().parents[2]
STEPS = Path(__file__).with_name("adoption_steps.py")


@pytest.fixture
def practice():
    """Start steps on a database that is made for the test and dropped after it."""
    from django.db import connection as ours

    given = ours.get_connection_params()
    known = {key: str(given[key]) for key in ("host", "port", "user", "password") if given.get(key)}
    name = f"test_benchlast_{uuid.uuid4().hex[:12]}"
    info = psycopg.conninfo.make_conninfo(**known, dbname="postgres")
    with psycopg.connect(info, autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "DATABASE_URL": _url(known, name),
        "DEBUG": "1",
        "SECRET_KEY": "of the tests",
        "PYTHONPATH": os.pathsep.join([str(ROOT), str(STEPS.parent)]),
    }

    def start(*step):
        command = [sys.executable, str(STEPS), *step]
        return subprocess.Popen(command, cwd=ROOT, env=environment, text=True, stdout=subprocess.PIPE)

    yield start
    with psycopg.connect(info, autocommit=True) as connection:
        connection.execute(f"DROP DATABASE {name} WITH (FORCE)")


def _url(known, name):
    from urllib.parse import quote

    user = quote(known.get("user", ""))
    password = f":{quote(known['password'])}" if known.get("password") else ""
    port = f":{known['port']}" if known.get("port") else ""
    return f"postgresql://{user}{password}@{quote(known.get('host', ''), safe='')}{port}/{name}"


def done(process):
    out, _ = process.communicate(timeout=300)
    assert process.returncode == 0, out
    return out.split("\n")[-2]


def look(practice):
    return json.loads(done(practice("look")))


def test_killed_in_the_midst_nothing_is_half_done_and_sent_again_it_is_done(practice):
    assert done(practice("prepare")) == "prepared"
    before = look(practice)
    assert before["model"] == before["card"] == "S1"
    assert before["results"] == 2
    killed = practice("adopt", "one", "300")
    assert killed.stdout.readline() == "inside\n"
    killed.send_signal(signal.SIGKILL)
    killed.wait(timeout=60)
    killed.stdout.close()
    assert killed.returncode == -signal.SIGKILL
    assert look(practice) == before
    assert done(practice("adopt", "one")) == "adopted 2 1"
    after = look(practice)
    assert after["model"] == after["card"] == "S2"
    assert (after["results"], after["adoptions"], after["models"], after["draft"]) == (4, 1, 2, "adopted")
    assert before["faults"] == after["faults"] == []


def test_of_two_reviewers_one_wins_and_the_other_is_told_while_an_upload_waits(practice):
    assert done(practice("prepare")) == "prepared"
    first = practice("adopt", "one", "4")
    assert first.stdout.readline() == "inside\n"
    second, late = practice("adopt", "two"), practice("upload")
    assert done(first) == "adopted 2 1"
    assert done(second) == "409 already_adopted"
    assert done(late) == "S2"
    after = look(practice)
    assert (after["results"], after["adoptions"], after["faults"]) == (5, 1, [])
