"""The recipe of docs/recovery.md: a primary is killed while people save, and comes back at a moment, or whole.

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

from core.accounts.provisioning import store_create
from tests.clusters import as_server_user, cluster, dump_of, new_server, server_folder
from tests.databases import pristine_copy_of

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
def practice(use, tmp_path):
    """A primary into which a backup was restored, the folder that receives its log, and a base backup of it."""
    name = str(connection.settings_dict["NAME"])
    file = dump_of(pristine_copy_of(name), tmp_path / "practice.dump")
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


class Saving(threading.Thread):
    """Somebody who saves one record after another until the server is gone; `acknowledged` are those that it took."""

    def __init__(self):
        super().__init__()
        self.acknowledged = []

    def run(self):
        try:
            for number in count():
                self.acknowledged.append(store_create(actor=None, slug=f"store-{number}", name="Store").slug)
        except Error:
            connection.close()

    def save_more(self, n):
        wanted = len(self.acknowledged) + n
        wait_until(lambda: len(self.acknowledged) >= wanted)


def ask(server, question, database="postgres"):
    with psycopg.connect(server.url(database)) as opened:
        return [value for (value,) in opened.execute(question).fetchall()]


def stores(server):
    return set(ask(server, "SELECT slug FROM core_store", str(connection.settings_dict["NAME"])))


def test_killed_primary_is_recovered_to_a_moment_and_to_the_last_acknowledged_change(practice, use, capsys):
    primary, received, copy = practice
    saving = Saving()
    saving.start()
    saving.save_more(5)
    before = {*saving.acknowledged}
    (moment,) = ask(primary, "SELECT clock_timestamp()::text")
    store_create(actor=None, slug="mistake", name="Mistake")
    saving.save_more(5)
    primary.stop()
    saving.join()
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
    assert before <= stores(copy)
    assert "mistake" not in stores(copy)

    copy.stop()
    copy.configure(recovery_target_time="", recovery_target_action="promote")
    copy.start()
    wait_until(lambda: ask(copy, "SELECT pg_is_in_recovery()") == [False])
    assert {*saving.acknowledged, "mistake"} <= stores(copy)
    (past_links,) = re.findall(r"SELECT setval.*?;", RECIPE.read_text(), re.DOTALL)
    assert ask(copy, past_links, str(connection.settings_dict["NAME"])) == [200_002, 200_002]
    use(copy)
    capsys.readouterr()
    call_command("verify_audit")
    assert capsys.readouterr().out.startswith("The audit trail is intact.")
