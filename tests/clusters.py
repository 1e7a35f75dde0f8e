"""PostgreSQL servers of a test's own: a copy of the tests' server that may be stopped, and streaming replicas of it."""

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

from core.database.programs import program
from tests.databases import url_of


def _run(*command: str) -> None:
    """Run a program of the server as the user that the embedded server runs as: PostgreSQL refuses to be root's."""
    who: dict[str, Any] = {}
    if os.getuid() == 0:
        owner = pwd.getpwnam("pgserver")
        who = {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}
    subprocess.run(command, check=True, capture_output=True, cwd="/", **who)


class Cluster:
    """A server whose data and socket are in a folder."""

    def __init__(self, folder: Path) -> None:
        # The data that is copied has the lock file of the source's own socket, so this one is beside it.
        self.folder, self.sockets = folder / "pg", folder

    @property
    def address(self) -> dict[str, str]:
        return {"host": str(self.sockets), "user": "postgres"}

    def url(self, database: str) -> str:
        return url_of(self.address, database)

    def start(self) -> None:
        options = f"-k {self.sockets} -c listen_addresses='' -c fsync=off -c shared_buffers=16MB"
        _run(program("pg_ctl"), "-D", str(self.folder), "-w", "-o", options, "-l", f"{self.folder}/log", "start")

    def stop(self) -> None:
        """Stop at once, as a machine does that loses its power."""
        _run(program("pg_ctl"), "-D", str(self.folder), "-w", "-m", "immediate", "stop")


@contextmanager
def copy_of(source: dict[str, str], *, follows: bool = False) -> Iterator[Cluster]:
    """Start a copy of a whole server, which follows the source as its replica where asked; it goes afterwards."""
    parent = Path(tempfile.mkdtemp(prefix="benchlast-"))
    if os.getuid() == 0:
        shutil.chown(parent, "pgserver", "pgserver")
    cluster = Cluster(parent)
    follow = ["--write-recovery-conf"] if follows else []
    try:
        _run(
            program("pg_basebackup"),
            f"--host={source['host']}",
            f"--username={source['user']}",
            f"--pgdata={cluster.folder}",
            "--checkpoint=fast",
            *follow,
        )
        cluster.start()
        yield cluster
    finally:
        with suppress(subprocess.CalledProcessError):  # the test may have stopped it already
            cluster.stop()
        shutil.rmtree(parent, ignore_errors=True)
