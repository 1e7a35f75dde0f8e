"""PostgreSQL servers of a test's own, which may be stopped, and copies of them that follow as replicas.

None is a copy of the tests' server: other workers create and drop databases there, and copying a folder that goes
meanwhile fails.
"""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import psycopg
import pytest
from psycopg import sql

from core.database.programs import program
from tests.databases import own_database, url_of
from tests.once import first_of_run, folder_of_run


class Cluster:
    """A server whose data and socket are in a folder.

    Parameters
    ----------
    version : of PostgreSQL, the newest of the wheel where None
    """

    def __init__(self, parent: Path, version: int | None = None) -> None:
        # The data that is copied has the lock file of the source's own socket, so this one is beside it.
        self.folder, self.sockets, self._version = parent / "pg", parent, version

    @property
    def address(self) -> dict[str, str]:
        return {"host": str(self.sockets), "user": "postgres"}

    def url(self, database: str) -> str:
        return url_of(self.address, database)

    def command(self, name: str, *options: str) -> list[str]:
        return [program(name, server_version=self._version), *options]

    def run(self, name: str, *options: str) -> None:
        """Run one of the server's programs; what it says of a failure is in the error."""
        done = subprocess.run(
            self.command(name, *options), check=False, capture_output=True, text=True, cwd="/", **as_server_user()
        )
        if done.returncode:
            raise RuntimeError(f"{name} failed ({done.returncode}): {done.stderr or done.stdout}")

    def start(self, **settings: str) -> None:
        given = {"listen_addresses": "''", "fsync": "off", "shared_buffers": "16MB", **settings}
        options = " ".join((f"-k {self.sockets}", *(f"-c {name}={value}" for name, value in given.items())))
        self.run("pg_ctl", "-D", str(self.folder), "-w", "-o", options, "-l", f"{self.folder}/log", "start")

    def configure(self, **settings: str) -> None:
        """Add settings to the server's file; the last one of a name counts from the next start or reload on."""
        with (self.folder / "postgresql.auto.conf").open("a") as file:
            file.writelines(f"{name} = '{value}'\n" for name, value in settings.items())

    def load(self, database: str, dump: Path) -> None:
        """Make a database, with the application's role, from a dump of one."""
        with psycopg.connect(self.url("postgres"), autocommit=True) as opened:
            opened.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(database)))
        fill(self.url(database), dump)

    def stop(self) -> None:
        """Stop at once, as a machine does that loses its power."""
        self.run("pg_ctl", "-D", str(self.folder), "-w", "-m", "immediate", "stop")

    def copy(self, source: dict[str, str], *options: str) -> None:
        """Take a base backup of a running server as the data of this one."""
        address = (f"--host={source['host']}", f"--username={source['user']}", f"--pgdata={self.folder}")
        self.run("pg_basebackup", *address, "--checkpoint=fast", "--no-sync", "--no-manifest", *options)


def as_server_user() -> dict[str, Any]:
    """Return what runs a program as the user of the embedded server: PostgreSQL refuses to be root's."""
    if os.getuid() != 0:
        return {}
    owner = pwd.getpwnam("pgserver")
    return {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}


@contextmanager
def server_folder() -> Iterator[Path]:
    """Give a folder of that user, which goes afterwards; its path is short enough for a socket."""
    place = Path(tempfile.mkdtemp(prefix="benchlast-"))
    if os.getuid() == 0:
        shutil.chown(place, "pgserver", "pgserver")
    try:
        yield place
    finally:
        shutil.rmtree(place, ignore_errors=True)


@contextmanager
def cluster(version: int | None = None) -> Iterator[Cluster]:
    """Give a server without data, not started; it goes afterwards."""
    with server_folder() as parent:
        made = Cluster(parent, version)
        try:
            yield made
        finally:
            with suppress(RuntimeError):  # the test may have stopped it already
                made.stop()


@contextmanager
def new_server(version: int | None = None, **settings: str) -> Iterator[Cluster]:
    """Start a new, empty server."""
    with cluster(version) as made:
        made.run(
            "initdb", f"--pgdata={made.folder}", "--username=postgres", "--encoding=UTF8", "--auth=trust", "--no-sync"
        )
        made.start(**settings)
        yield made


@contextmanager
def copy_of(source: dict[str, str], *, follows: bool = False) -> Iterator[Cluster]:
    """Start a copy of a whole server, which follows the source as its replica where asked."""
    with cluster() as made:
        made.copy(source, *(["--write-recovery-conf"] if follows else []))
        made.start()
        yield made


def dump_of_empty(factory: pytest.TempPathFactory) -> Path:
    """Dump the migrated, empty database once for all workers: a copy of it, since others may copy it meanwhile."""
    file = folder_of_run(factory) / "empty.dump"
    with first_of_run(factory, "dump") as is_first:
        if is_first:
            with own_database() as url:
                subprocess.run([program("pg_dump"), "--format=custom", f"--file={file}", url], check=True)
    return file


def fill(url: str, dump: Path) -> None:
    """Make an empty database of a new server what a dump holds, with the application's role."""
    with psycopg.connect(url, autocommit=True) as opened:
        opened.execute("CREATE ROLE benchlast_app NOLOGIN NOSUPERUSER NOBYPASSRLS")
    subprocess.run([program("pg_restore"), f"--dbname={url}", str(dump)], check=True)
