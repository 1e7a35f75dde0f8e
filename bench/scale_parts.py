"""The parts of `bench.scale`: a server of the application, a pooler, and the login that both use."""

from __future__ import annotations

import os
import pwd
import signal
import subprocess
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import psycopg

from bench.served import free_port, start_server

LOGIN = """
CREATE ROLE benchlast LOGIN;
GRANT benchlast_app TO benchlast WITH SET TRUE;
ALTER SYSTEM SET log_line_prefix = '%a|';
ALTER SYSTEM SET log_statement = 'all';
SELECT pg_reload_conf()
"""


def prepare_login(primary: Any) -> None:
    """Make the user that the application connects as, and let the server log its statements."""
    with psycopg.connect(primary.url("benchlast"), autocommit=True) as connection:
        for statement in LOGIN.strip().split(";"):
            connection.execute(statement)


class Server:
    """`manage.py serve` with two workers, which can be killed and started again on the same port."""

    def __init__(self, environment: dict[str, str]) -> None:
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        # The data folder has the key alone; each server has one, as on machines of their own.
        self._environment = environment | {"BENCHLAST_DATA": f"{environment['BENCHLAST_DATA']}-{self.port}"}
        self.start()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *problem: type[BaseException] | BaseException | TracebackType | None) -> None:
        self._process.terminate()
        self._process.wait()

    def start(self) -> None:
        self._process = start_server(self._environment, self.port)

    def workers(self) -> list[int]:
        lists = Path(f"/proc/{self._process.pid}/task").glob("*/children")
        return [int(pid) for line in lists for pid in line.read_text().split()]

    def kill_a_worker(self) -> None:
        os.kill(self.workers()[-1], signal.SIGKILL)

    def kill(self) -> None:
        """Kill the whole server, as a machine does that loses its power."""
        for pid in [self._process.pid, *self.workers()]:
            os.kill(pid, signal.SIGKILL)
        self._process.wait()


class Pooler:
    """pgbouncer in front of the primary: a few connections of the server, another one for each transaction."""

    def __init__(self, program: str, primary: Any, folder: Path) -> None:
        port = free_port()
        self.url = f"postgresql://benchlast@127.0.0.1:{port}/benchlast"
        place = folder / "pgbouncer"
        place.mkdir(mode=0o777)
        place.chmod(0o777)
        (place / "users.txt").write_text('"benchlast" ""\n')
        (place / "pgbouncer.ini").write_text(
            f"[databases]\nbenchlast = host={primary.sockets} dbname=benchlast\n[pgbouncer]\n"
            f"listen_addr = 127.0.0.1\nlisten_port = {port}\nunix_socket_dir =\npool_mode = transaction\n"
            f"auth_type = trust\nauth_file = {place}/users.txt\nlogfile = {place}/log\n"
            "default_pool_size = 4\nquery_wait_timeout = 5\n"
        )
        who: dict[str, Any] = {}
        if os.getuid() == 0:  # pgbouncer refuses to be root's
            owner = pwd.getpwnam("pgserver")
            who = {"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []}
        command = [program, "-q", str(place / "pgbouncer.ini")]
        self._process = subprocess.Popen(command, **who, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *problem: type[BaseException] | BaseException | TracebackType | None) -> None:
        self._process.terminate()
        self._process.wait()
