"""The embedded server's folder: what earlier processes left behind, and reasons in words."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest
from django.core.exceptions import ImproperlyConfigured

from config import embedded


@pytest.fixture
def folder(tmp_path):
    """The folder of a server that says it runs as this very process."""
    embedded._prepare_server_class()
    (tmp_path / "postmaster.pid").write_text(f"{os.getpid()}\n{tmp_path}\n1700000000\n5432\n{tmp_path}\n\n1 2\nready\n")
    return tmp_path


def users_of(folder):
    return json.loads((folder / ".handle_pids.json").read_text())


def gone():
    """Return the number of a process that has ended."""
    with subprocess.Popen([sys.executable, "-c", ""]) as process:
        process.wait()
    return process.pid


def test_process_that_was_killed_no_longer_uses_the_server(folder, monkeypatch):
    monkeypatch.setattr("psutil.Process.name", lambda _: "postgres")
    (folder / ".handle_pids.json").write_text(json.dumps([gone(), os.getpid()]))
    embedded._forget_ended_processes(folder)
    assert users_of(folder) == [os.getpid()]
    assert (folder / "postmaster.pid").exists()


def test_number_that_another_process_has_got_is_no_server(folder):
    (folder / ".handle_pids.json").write_text(json.dumps([os.getpid()]))
    embedded._forget_ended_processes(folder)
    assert users_of(folder) == []
    assert not (folder / "postmaster.pid").exists()


def test_folder_that_cannot_be_used_is_named_with_the_reason(tmp_path):
    (tmp_path / "file").write_text("")
    with pytest.raises(ImproperlyConfigured, match=r"cannot be used: Not a directory \(.*Set BENCHLAST_DATA"):
        embedded.start(tmp_path / "file" / "data")


def test_full_disk_is_the_reason(tmp_path, monkeypatch):
    monkeypatch.setattr(embedded, "ROOM_MIB", 10**12)
    reason = embedded._reason(tmp_path / "postgres", AssertionError())
    assert "MiB are free on its disk" in reason


def test_last_line_of_the_servers_log_is_the_reason(tmp_path):
    (tmp_path / "log").write_text("starting\nFATAL: no\n")
    assert embedded._reason(tmp_path, RuntimeError()) == "PostgreSQL does not start (FATAL: no)."
