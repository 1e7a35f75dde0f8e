"""An adoption killed in its midst, and several people at once: in processes of their own on a database of their own."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.databases import own_database

ROOT = Path(__file__).resolve().parents[4]
STEPS = Path(__file__).with_name("adoption_steps.py")


@pytest.fixture
def practice(django_db_setup):
    """Start steps on a database that is made for the test and dropped after it."""
    with own_database() as url:
        environment = {
            **os.environ,
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "DATABASE_URL": url,
            "DEBUG": "1",
            "SECRET_KEY": "of the tests",
            "PYTHONPATH": os.pathsep.join([str(ROOT), str(STEPS.parent)]),
        }

        def start(*step):
            command = [sys.executable, str(STEPS), *step]
            return subprocess.Popen(command, cwd=ROOT, env=environment, text=True, stdout=subprocess.PIPE)

        yield start


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


def test_of_two_reviewers_one_wins_and_the_other_is_refused_while_an_upload_waits(practice):
    assert done(practice("prepare")) == "prepared"
    first = practice("adopt", "one", "4")
    assert first.stdout.readline() == "inside\n"
    second, late = practice("adopt", "two"), practice("upload")
    assert done(first) == "adopted 2 1"
    assert done(second) == "409 already_adopted"
    assert done(late) == "S2"
    after = look(practice)
    assert (after["results"], after["adoptions"], after["faults"]) == (5, 1, [])
