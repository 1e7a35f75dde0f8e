"""Serve the application with a production WSGI server."""

from __future__ import annotations

import os
import shutil
import socket
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import Error, connections
from granian import Granian
from granian.constants import Interfaces

from core.management.run import sentence
from core.operations.readiness import migration_problems

STOP_SECONDS = 10
"""How long a worker may take to finish its requests before it is ended."""

MEMORY = Path("/dev/shm")  # noqa: S108  the folder in it is this user's own
"""Where Linux has files in memory: workers map the files of their counts, and on a full disk that ends a worker."""


class Command(BaseCommand):
    help = "Serve the application with granian; static files are collected first."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--workers", type=int, default=2)

    def execute(self, *args: Any, **options: Any) -> str | None:
        _refuse_taken_port(options["host"], options["port"])
        # Before the checks import the views, and with them prometheus_client.
        _prepare_metrics(_metrics_folder(options["port"]))
        return super().execute(*args, **options)

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.WHITENOISE_USE_FINDERS:
            call_command("collectstatic", interactive=False, verbosity=0)
        _link_to(options["port"])
        self._say_what_is_missing()
        self.stdout.write(f"Serving on http://{options['host']}:{options['port']}/ (Ctrl+C stops it)")
        # Few threads, because each has its own database connection.
        Granian(
            "config.wsgi:application",
            address=options["host"],
            port=options["port"],
            interface=Interfaces.WSGI,
            workers=options["workers"],
            blocking_threads=2,
            websockets=False,
            # Otherwise one worker that ends unexpectedly ends all, and a request that never ends keeps the server up.
            respawn_failed_workers=True,
            workers_kill_timeout=STOP_SECONDS,
            # An access log would contain customers' signed links, and anybody with such an address can open the card.
            log_access=False,
        ).serve()

    def _say_what_is_missing(self) -> None:
        """Warn of a database that was not migrated; one that cannot be reached may come back while pages are served."""
        try:
            for problem in migration_problems():
                self.stderr.write(problem)
        except Error as problem:
            self.stderr.write(sentence(problem) or str(problem))
        # Worker processes are copies of this one and must not share its connection.
        connections.close_all()


def _refuse_taken_port(host: str, port: int) -> None:
    """Refuse a port that is in use. The server would share it, and two servers would answer in turn."""
    if not 1 <= port <= 65_535:
        raise CommandError(f"There is no port {port}. Choose one from 1 to 65535 with --port.")
    try:
        (family, *_, address) = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, socket.SOCK_STREAM) as probe:
            # Connections of an earlier server that are still closing do not count.
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(address)
    except OSError as problem:
        raise CommandError(
            f"Cannot serve on {host}:{port} ({problem}). Stop what uses this port, or choose another with --port."
        ) from problem


def _metrics_folder(port: int) -> Path:
    if MEMORY.is_dir() and os.access(MEMORY, os.W_OK):
        return MEMORY / f"benchlast-{os.getuid()}-{port}"
    return settings.DATA_DIR / f"metrics-{port}"


def _prepare_metrics(folder: Path) -> None:
    """Remove an earlier server's counts; the worker processes add theirs up in this folder."""
    try:
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True, mode=0o700)
    except OSError as problem:
        raise CommandError(
            f"Cannot make the folder {folder} ({problem.strerror}). Set BENCHLAST_DATA to a folder that this user may "
            f"write to, with room on its disk, or remove {folder} where it is another user’s."
        ) from problem
    os.environ["PROMETHEUS_MULTIPROC_DIR"] = str(folder)


def _link_to(port: int) -> None:
    """Let signed links and QR codes lead to the port that is served, unless SITE_URL says where they lead.

    A worker is a fork with these settings, or a new process that reads them from the environment.
    """
    if not os.environ.get("SITE_URL"):
        os.environ["PORT"] = str(port)
        settings.SITE_URL = f"http://localhost:{port}"
