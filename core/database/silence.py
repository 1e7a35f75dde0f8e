"""Ending the wait for a database server that has stopped answering although its connections are open.

Where a server's processes are suspended, or wait for a disk that hangs, the system below them still confirms what it
receives: neither TCP's timeouts nor those of the server's own statements end the wait. So a thread of each process
looks once a second. Where a statement has been waiting for some seconds, it asks the server something on another
connection. A server that answers is at work, and the statement may take as long as it needs. Of one that does not, the
waiting connections are shut down, which raises `OperationalError` in whoever waits, and new ones are refused until it
answers again.

References
----------
.. [1] PostgreSQL documentation, 32.1.2 (`tcp_user_timeout`), 32.4 (sending a command without waiting for its result).
"""

from __future__ import annotations

import logging
import os
import select
import socket
import threading
import time
from contextlib import suppress
from dataclasses import dataclass
from typing import Any
from weakref import WeakKeyDictionary

import psycopg
from psycopg.pq import ExecStatus, TransactionStatus

logger = logging.getLogger(__name__)

INTERVAL_S = 1.0
WAIT_S = 3.0
"""How long a statement waits before the server is asked."""
ANSWER_S = 5.0
"""How long the server may take for its answer, as for a new connection of the application (settings)."""
_LOGIN = ("dbname", "host", "port", "user", "password", "sslmode", "sslrootcert", "sslcert", "sslkey")

RawConnection = psycopg.Connection[Any]


def login_of(params: dict[str, Any]) -> dict[str, Any]:
    """Return of the parameters of a connection those that another one to the same server needs."""
    return {name: params[name] for name in _LOGIN if params.get(name) not in (None, "")}


def ask(connection: RawConnection, question: str, seconds: float) -> str | None:
    """Return the one value that a query gives, without waiting longer than this.

    Raises
    ------
    psycopg.Error
        If the query fails, or is not answered in time; the connection must be closed then.
    """
    pgconn, value, until = connection.pgconn, None, time.monotonic() + seconds
    pgconn.send_query(question.encode())
    pgconn.flush()
    while True:
        while pgconn.is_busy():
            _wait_for_input(pgconn.socket, until)
            pgconn.consume_input()
        result = pgconn.get_result()
        if result is None:
            return None if value is None else value.decode()
        if result.status != ExecStatus.TUPLES_OK:
            raise psycopg.OperationalError(result.error_message.decode(errors="replace"))
        value = result.get_value(0, 0)


def _wait_for_input(fd: int, until: float) -> None:
    waiting = select.poll()
    waiting.register(fd, select.POLLIN)
    if not waiting.poll(max(0.0, until - time.monotonic()) * 1000):
        raise psycopg.OperationalError("It does not answer.")


@dataclass
class _Watched:
    """How to reach the server of a connection, and since when a statement has been waiting at each look, if one was."""

    login: dict[str, Any]
    waits_since: float | None = None

    @property
    def server(self) -> tuple[str, str]:
        return _server(self.login)


def _server(params: dict[str, Any]) -> tuple[str, str]:
    return str(params.get("host", "")), str(params.get("port", ""))


class SilenceWatch:
    """The connections of this process, and the servers that do not answer."""

    def __init__(self) -> None:
        self.begin()

    def begin(self) -> None:
        """Begin without connections, in a new process: a copy of one has neither its thread nor a lock it held."""
        self._open: WeakKeyDictionary[RawConnection, _Watched] = WeakKeyDictionary()
        self._silent: dict[tuple[str, str], dict[str, Any]] = {}
        self._thread: threading.Thread | None = None
        self._lock = threading.Lock()

    def add(self, connection: RawConnection, params: dict[str, Any]) -> None:
        """Watch a new connection. The first one of a process starts the thread."""
        with self._lock:
            self._open[connection] = _Watched(login_of(params))
            if self._thread is None:
                self._thread = threading.Thread(target=self._look_on, name="silence-watch", daemon=True)
                self._thread.start()

    def refuse_while_silent(self, params: dict[str, Any]) -> None:
        """Refuse to open a connection that would not be answered: requests would queue behind it.

        Raises
        ------
        psycopg.OperationalError
        """
        if _server(params) in self._silent:
            raise psycopg.OperationalError("The database server does not answer.")

    def _look_on(self) -> None:
        pause = threading.Event()
        while True:
            pause.wait(INTERVAL_S)
            try:
                self.look()
            except Exception:
                # The thread must outlive whatever happens: without it requests would wait for ever again.
                logger.exception("Connections that wait could not be looked at.")

    def look(self) -> None:
        """Ask the servers that somebody waits for, and end the wait for those that do not answer."""
        for server, login in {**self._silent, **self._servers_waited_for()}.items():
            if _answers(login):
                self._silent.pop(server, None)
                self._expect_again(server)
                continue
            if server not in self._silent:
                logger.error("The database server does not answer. Requests that wait for it are ended.")
            self._silent[server] = login
            self._shut_down(server)

    def _watched(self) -> list[tuple[RawConnection, _Watched]]:
        with self._lock:
            return list(self._open.items())

    def _servers_waited_for(self) -> dict[tuple[str, str], dict[str, Any]]:
        now, servers = time.monotonic(), {}
        for connection, watched in self._watched():
            if not _is_waiting(connection):
                watched.waits_since = None
                continue
            watched.waits_since = watched.waits_since or now
            if now - watched.waits_since >= WAIT_S:
                servers[watched.server] = watched.login
        return servers

    def _expect_again(self, server: tuple[str, str]) -> None:
        """Ask a server that is at work again only when the statement has been waiting as long once more."""
        for _, watched in self._watched():
            if watched.server == server:
                watched.waits_since = None

    def _shut_down(self, server: tuple[str, str]) -> None:
        for connection, watched in self._watched():
            if watched.server == server and _is_waiting(connection):
                _shut_down(connection)


def _is_waiting(connection: RawConnection) -> bool:
    return not connection.closed and connection.pgconn.transaction_status == TransactionStatus.ACTIVE


def _shut_down(connection: RawConnection) -> None:
    """End a connection from another thread than the one that waits: that one reads the end of the stream."""
    with suppress(OSError, psycopg.Error), socket.socket(fileno=os.dup(connection.pgconn.socket)) as stream:
        stream.shutdown(socket.SHUT_RDWR)


def _answers(login: dict[str, Any]) -> bool:
    """Whether a server answers, if only that it takes no more connections."""
    try:
        with psycopg.connect(**login, connect_timeout=int(ANSWER_S), application_name="benchlast-watch") as asked:
            try:
                ask(asked, "SELECT 1", ANSWER_S)
            except psycopg.Error:
                return False
    except psycopg.errors.ConnectionTimeout:
        return False
    except psycopg.Error:
        # Refused, or no such server: whoever waits learns it from the network.
        return True
    return True


watch = SilenceWatch()
os.register_at_fork(after_in_child=watch.begin)
