"""An adoption killed in its midst, and several people at once: in processes of their own on a database of their own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection

from tests.databases import committed_database, server, url_of
from tests.labtests.services.scores.adoption_steps import look, prepare

ROOT = Path(__file__).resolve().parents[4]
STEPS = Path(__file__).with_name("adoption_steps.py")

db = pytest.fixture(committed_database)


@pytest.fixture
def practice(db):
    """Return a function that starts a step on the database of the test, which has a lab and a draft in it."""
    prepare()
    environment = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "DATABASE_URL": url_of(server(), str(connection.settings_dict["NAME"])),
        "DEBUG": "1",
        "SECRET_KEY": "of the tests",
        "PYTHONPATH": os.pathsep.join([str(ROOT), str(STEPS.parent)]),
    }

    def start(*step):
        command = [sys.executable, str(STEPS), *step]
        return subprocess.Popen(command, cwd=ROOT, env=environment, text=True, stdout=subprocess.PIPE)

    return start


def done(process):
    out, _ = process.communicate(timeout=300)
    assert process.returncode == 0, out
    return out.split("\n")[-2]


def test_killed_in_the_midst_nothing_is_half_done_and_sent_again_it_is_done(practice):
    before = look()
    assert before["model"] == before["card"] == "S1"
    assert before["results"] == 2
    killed = practice("adopt", "one", "300")
    assert killed.stdout.readline() == "inside\n"
    killed.send_signal(signal.SIGKILL)
    killed.wait(timeout=60)
    killed.stdout.close()
    assert killed.returncode == -signal.SIGKILL
    assert look() == before
    assert done(practice("adopt", "one")) == "adopted 2 1"
    after = look()
    assert after["model"] == after["card"] == "S2"
    assert (after["results"], after["adoptions"], after["models"], after["draft"]) == (4, 1, 2, "adopted")
    assert before["faults"] == after["faults"] == []


def test_of_two_reviewers_one_wins_and_the_other_is_refused_while_an_upload_waits(practice):
    first = practice("adopt", "one", "4")
    assert first.stdout.readline() == "inside\n"
    second, late = practice("adopt", "two"), practice("upload")
    assert done(first) == "adopted 2 1"
    assert done(second) == "409 already_adopted"
    assert done(late) == "S2"
    after = look()
    assert (after["results"], after["adoptions"], after["faults"]) == (5, 1, [])
