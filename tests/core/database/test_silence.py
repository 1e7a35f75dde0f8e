"""A server with suspended processes accepts and never answers: who waits for it is let go, and it is used again."""

from __future__ import annotations

import os
import signal
import threading
import time
from contextlib import contextmanager, suppress

import psycopg
import pytest
from django.db import OperationalError, connection
from django.test import Client

from core.database import replicas, silence
from tests.clusters import dump_of_empty, new_server

WAIT_S = 15.0


@pytest.fixture(scope="module")
def cluster(django_db_setup, tmp_path_factory):
    name = str(connection.settings_dict["NAME"])
    dump = dump_of_empty(tmp_path_factory)
    with new_server() as made:
        made.load(name, dump)
        yield made


@pytest.fixture
def db(cluster, django_db_blocker, monkeypatch):
    """The cluster as the application's database, with a watch that looks when the test says so and soon gives up."""
    monkeypatch.setattr(silence.SilenceWatch, "_look_on", lambda _: None)
    monkeypatch.setattr(silence, "watch", silence.SilenceWatch())
    monkeypatch.setattr(silence, "WAIT_S", 0.0)
    monkeypatch.setattr(silence, "ANSWER_S", 2.0)
    host = connection.settings_dict["HOST"]
    with django_db_blocker.unblock():
        connection.close()
        connection.settings_dict["HOST"] = cluster.address["host"]
        try:
            yield
        finally:
            connection.close()
            connection.settings_dict["HOST"] = host


def processes_of(cluster):
    """Return the number of the server's main process, then those of its backends."""
    main = int((cluster.folder / "postmaster.pid").read_text().splitlines()[0])
    with psycopg.connect(cluster.url("postgres")) as opened:
        return [main, *(pid for (pid,) in opened.execute("SELECT pid FROM pg_stat_activity").fetchall())]


@contextmanager
def suspended(cluster):
    stopped = []
    try:
        for pid in processes_of(cluster):
            try:
                os.kill(pid, signal.SIGSTOP)
            except ProcessLookupError:  # the connection that asked is gone
                continue
            stopped.append(pid)
        yield
    finally:
        for pid in stopped:
            with suppress(ProcessLookupError):  # it was about to end when it was suspended
                os.kill(pid, signal.SIGCONT)


def wait_until(holds):
    until = time.monotonic() + WAIT_S
    while not holds():
        assert time.monotonic() < until, "not within the time"
        time.sleep(0.02)


def in_time(act):
    """Do something that waits for the server, while another thread looks, as in a served process."""
    (raw,) = silence.watch._open
    looks = threading.Thread(target=lambda: (wait_until(lambda: silence._is_waiting(raw)), silence.watch.look()))
    looks.start()
    try:
        return act()
    finally:
        looks.join()


def test_open_connection_is_let_go_and_pages_return_by_themselves(db, cluster):
    client = Client(raise_request_exception=False)
    assert client.get("/").status_code == 200
    with suspended(cluster):
        assert in_time(lambda: client.get("/")).status_code == 503
        connection.close()
        # A new connection is refused at once, so that requests do not queue for it.
        with pytest.raises(OperationalError, match="does not answer"):
            connection.ensure_connection()
    wait_until(lambda: silence.watch.look() or not silence.watch._silent)
    assert client.get("/").status_code == 200


def test_slow_statement_of_a_server_that_answers_is_left_alone(db):
    connection.ensure_connection()

    def sleep():
        with connection.cursor() as cursor:
            cursor.execute("SELECT 'done', pg_sleep(0.5)")
            return cursor.fetchone()[0]

    assert in_time(sleep) == "done"


def test_watch_over_replicas_does_not_wait_for_a_silent_server(db, cluster, monkeypatch):
    monkeypatch.setattr(replicas, "ANSWER_S", 0.5)
    watch = replicas.ReplicaWatch([])
    watch.look()
    assert not watch.is_primary_away
    with suspended(cluster):
        watch.look()
        assert watch.is_primary_away
    for opened in watch._open.values():
        opened.close()
