"""Serving: links lead to the port that is served, and a port in use is refused."""

from __future__ import annotations

import os
import socket

import pytest
from django.core.management import CommandError, call_command

from core.management.commands import serve


@pytest.fixture
def served(monkeypatch, settings, tmp_path):
    """Return a function that serves on a port without serving, and returns the port and the address of links."""
    seen = {}

    class Server:
        def __init__(self, target, **options):
            seen.update(options)

        def serve(self):
            seen["site"], seen["PORT"] = settings.SITE_URL, os.environ.get("PORT")

    monkeypatch.setattr(serve, "Granian", Server)
    monkeypatch.setattr(serve, "MEMORY", tmp_path)
    monkeypatch.setattr(serve, "migration_problems", lambda: ["Run migrate: 2 migrations are missing."])
    # Set by the command, and taken back after the test.
    monkeypatch.setenv("PROMETHEUS_MULTIPROC_DIR", "")
    settings.DATA_DIR = tmp_path
    monkeypatch.setenv("PORT", "8000")
    monkeypatch.delenv("SITE_URL", raising=False)
    settings.SITE_URL = "http://localhost:8000"

    def run(*words):
        call_command("serve", *words)
        return seen

    return run


def test_links_follow_the_port_for_this_process_and_its_workers(served):
    seen = served("--port", "8137")
    assert seen["port"] == 8137
    assert seen["site"] == "http://localhost:8137"
    assert seen["PORT"] == "8137"


def test_site_url_that_is_set_stays(served, monkeypatch, settings):
    monkeypatch.setenv("SITE_URL", "https://shoes.example.org")
    settings.SITE_URL = "https://shoes.example.org"
    assert served("--port", "8137")["site"] == "https://shoes.example.org"


def test_port_in_use_is_refused_even_where_it_could_be_shared(served):
    with socket.socket() as other:
        other.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEPORT, 1)
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(CommandError, match=f"Cannot serve on 127.0.0.1:{port}"):
            served("--port", str(port))


@pytest.mark.parametrize("port", ["-1", "70000"])
def test_impossible_port_is_refused(served, port):
    with pytest.raises(CommandError, match="Choose one from 1 to 65535"):
        served("--port", port)


def test_counts_of_an_earlier_server_are_removed(served, tmp_path):
    folder = tmp_path / f"benchlast-{os.getuid()}-8137"
    folder.mkdir()
    (folder / "counter_1.db").write_bytes(b"old")
    served("--port", "8137")
    assert list(folder.iterdir()) == []
    assert os.environ["PROMETHEUS_MULTIPROC_DIR"] == str(folder)


def test_data_folder_that_cannot_be_written_is_named(served, settings, tmp_path, monkeypatch):
    monkeypatch.setattr(serve, "MEMORY", tmp_path / "not on this system")
    settings.DATA_DIR = tmp_path / "a file"
    settings.DATA_DIR.write_text("")
    with pytest.raises(CommandError, match="Set BENCHLAST_DATA"):
        served("--port", "8137")


def test_failed_workers_are_replaced_and_hung_ones_ended(served):
    seen = served("--port", "8137")
    assert seen["respawn_failed_workers"] is True
    assert seen["workers_kill_timeout"] == serve.STOP_SECONDS


def test_server_keeps_no_access_log(served):
    assert served("--port", "8137")["log_access"] is False


def test_database_that_was_not_migrated_is_named(served, capsys):
    served("--port", "8137")
    assert capsys.readouterr().err == "Run migrate: 2 migrations are missing.\n"
