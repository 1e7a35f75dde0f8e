"""The recipe of docs/recovery.md: a primary is killed in the middle of uploads, and comes back at a moment, or whole.

It is a server of the oldest version that we support.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import threading
import time
from itertools import count
from pathlib import Path

import psycopg
import pytest
from django.core.management import call_command
from django.db import Error, connection

from catalogue.services import brand_create, shoe_create
from labtests.services import rig_create, upload_store
from tests.clusters import as_server_user, cluster, dump_of_empty, new_server, server_folder
from tests.labtests.bench_text import bench_bytes
from tests.people import make_cast

OLDEST = 16
RECIPE = Path(__file__).parents[3] / "docs" / "recovery.md"
WAIT_S = 30.0


def wait_until(holds):
    until = time.monotonic() + WAIT_S
    while not holds():
        assert time.monotonic() < until, "not within the time"
        time.sleep(0.05)


@pytest.fixture
def use(django_db_setup, django_db_blocker):
    """Return a function that makes a server's database that of the application."""
    current = connection.settings_dict
    host = current["HOST"]

    def work_in(server):
        connection.close()
        current["HOST"] = server.address["host"]

    with django_db_blocker.unblock():
        yield work_in
        connection.close()
        current["HOST"] = host


@pytest.fixture
def practice(use, tmp_path_factory):
    """A primary into which a backup was restored, the folder that receives its log, and a base backup of it."""
    name = str(connection.settings_dict["NAME"])
    file = dump_of_empty(tmp_path_factory)
    with new_server(OLDEST) as primary, server_folder() as received, cluster(OLDEST) as copy:
        with psycopg.connect(primary.url("postgres"), autocommit=True) as opened:
            opened.execute(f"CREATE DATABASE {name}")
        use(primary)
        call_command("restore", str(file), "--no-input")
        receive = ("-D", str(received), "-h", str(primary.sockets), "-U", "postgres", "--slot=benchlast")
        primary.run("pg_receivewal", *receive, "--create-slot")
        command = primary.command("pg_receivewal", *receive, "--synchronous", "--no-loop")
        with subprocess.Popen(command, stderr=subprocess.DEVNULL, cwd="/", **as_server_user()) as receiver:
            primary.configure(synchronous_standby_names="pg_receivewal")
            primary.run("pg_ctl", "-D", str(primary.folder), "reload")
            copy.copy(primary.address)
            yield primary, received, copy
            receiver.terminate()


def cast_of_lab():
    """The staff, with the rig and the shoe that bench files name."""
    cast = make_cast()
    rig_create(actor=cast.reviewer, code="rig-1", name="Rig one")
    brand = brand_create(actor=None, slug="fenwright", name="Fenwright")
    shoe_create(actor=None, slug="fenrunner-2", brand=brand, name="Fenrunner 2", mass_g=280.0, stack_heel_mm=34.0)
    return cast


def upload(technician, name):
    """Store an upload of one bench test and return its name."""
    return upload_store(actor=technician, name=name, data=bench_bytes(specimen=name)).name


class Uploading(threading.Thread):
    """Somebody who uploads one file after another until the server is gone; `acknowledged` are those that it took."""

    def __init__(self, technician):
        super().__init__()
        self.acknowledged, self._technician = [], technician

    def run(self):
        try:
            for number in count():
                self.acknowledged.append(upload(self._technician, f"upload-{number}"))
        except (Error, psycopg.Error):  # from COPY it is the driver's
            connection.close()

    def upload_more(self, n):
        wanted = len(self.acknowledged) + n
        wait_until(lambda: len(self.acknowledged) >= wanted)


def ask(server, question, database="postgres"):
    with psycopg.connect(server.url(database)) as opened:
        return [value for (value,) in opened.execute(question).fetchall()]


UPLOADS = "SELECT name FROM labtests_upload"
WHOLE_UPLOADS = f"{UPLOADS} JOIN labtests_benchtest test ON test.upload_id = labtests_upload.id"


def uploads(server):
    """Return the names of the uploads, each of which has its test."""
    name = str(connection.settings_dict["NAME"])
    names = set(ask(server, UPLOADS, name))
    assert names == set(ask(server, WHOLE_UPLOADS, name))
    return names


def test_killed_primary_is_recovered_to_a_moment_and_to_the_last_acknowledged_change(practice, use, capsys):
    primary, received, copy = practice
    technician = cast_of_lab().technician
    uploading = Uploading(technician)
    uploading.start()
    uploading.upload_more(3)
    before = {*uploading.acknowledged}
    (moment,) = ask(primary, "SELECT clock_timestamp()::text")
    upload(technician, "mistake")
    uploading.upload_more(3)
    primary.stop()
    uploading.join()
    shutil.rmtree(primary.folder)

    (copy.folder / "recovery.signal").touch()
    copy.configure(
        restore_command=f"cp {received}/%f %p || cp {received}/%f.partial %p",
        synchronous_standby_names="",
        recovery_target_time=moment,
        recovery_target_action="pause",
    )
    copy.start()
    wait_until(lambda: ask(copy, "SELECT pg_get_wal_replay_pause_state()") == ["paused"])
    assert before <= uploads(copy)
    assert "mistake" not in uploads(copy)

    copy.stop()
    copy.configure(recovery_target_time="", recovery_target_action="promote")
    copy.start()
    wait_until(lambda: ask(copy, "SELECT pg_is_in_recovery()") == [False])
    assert {*uploading.acknowledged, "mistake"} <= uploads(copy)
    (past_links,) = re.findall(r"SELECT setval.*?;", RECIPE.read_text(), re.DOTALL)
    assert ask(copy, past_links, str(connection.settings_dict["NAME"])) == [200_002, 200_002]
    use(copy)
    capsys.readouterr()
    call_command("verify_audit")
    assert capsys.readouterr().out.startswith("The audit trail is intact.")
