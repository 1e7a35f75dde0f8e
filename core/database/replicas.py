"""How far the read replicas are: asked once a second, in a thread of its own, by positions in the write-ahead log.

A replica may be read from while it has replayed all that the primary had written when it was last asked, so what it
shows is one to two looks old at most. The time of its last transaction says nothing: on a quiet day that is hours ago.

References
----------
.. [1] PostgreSQL documentation, 9.28.3 and 9.28.4 (backup control and recovery information functions).
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from typing import Any

import psycopg
from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections

from core.database.silence import ask, login_of

logger = logging.getLogger(__name__)

INTERVAL_S = 1.0
ANSWER_S = 2.0
_START = "'0/0'::pg_lsn"
_WRITTEN = f"SELECT CASE WHEN NOT pg_is_in_recovery() THEN (pg_current_wal_lsn() - {_START})::bigint END"
_REPLAYED = f"SELECT CASE WHEN pg_is_in_recovery() THEN (pg_last_wal_replay_lsn() - {_START})::bigint END"


@dataclass(frozen=True, slots=True)
class ReplicaState:
    """What the last look found. `lag_bytes` of the write-ahead log are not replayed yet, None where not known."""

    name: str
    is_usable: bool
    lag_bytes: int | None
    problem: str


class ReplicaWatch:
    """The state of some replicas; `start` looks once a second from then on.

    Parameters
    ----------
    names : sequence of str
        Aliases of `DATABASES`.
    """

    def __init__(self, names: Sequence[str]) -> None:
        self._names = tuple(names)
        self._open: dict[str, psycopg.Connection[Any]] = {}
        self._written: int | None = None
        self._states = tuple(ReplicaState(name, False, None, "not asked yet") for name in names)
        self._turn = 0
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self.is_primary_away = False

    @property
    def states(self) -> tuple[ReplicaState, ...]:
        return self._states

    def start(self) -> None:
        """Begin to look, once a process: a worker process is a copy without the threads of the one before."""
        if self._names and self._thread is None:
            with self._lock:
                if self._thread is None:
                    self._thread = threading.Thread(target=self._look_on, name="replica-watch", daemon=True)
                    self._thread.start()

    def usable(self) -> list[str]:
        """Return the replicas that may be read from, another one first each time."""
        names = [state.name for state in self._states if state.is_usable]
        if not names:
            return []
        self._turn += 1
        first = self._turn % len(names)
        return names[first:] + names[:first]

    def leave_out(self, name: str, problem: str) -> None:
        """Read no more from a replica that failed, until a look finds it well again."""
        with self._lock:
            self._states = tuple(
                ReplicaState(name, False, None, problem) if state.name == name else state for state in self._states
            )

    def _look_on(self) -> None:
        pause = threading.Event()
        while True:
            try:
                self.look()
            except Exception:
                # The thread must outlive whatever happens: without it the replicas would never be read from again.
                logger.exception("The replicas could not be looked at.")
            pause.wait(INTERVAL_S)

    def look(self) -> None:
        """Ask the primary and each replica once."""
        needed = self._written
        written, problem = self._ask(DEFAULT_DB_ALIAS, _WRITTEN)
        self.is_primary_away = bool(problem)
        self._written = self._written if written is None else written
        # The first time there is no earlier position to compare with.
        needed = self._written if needed is None else needed
        states = tuple(self._state_of(name, needed) for name in self._names)
        with self._lock:
            self._states = states

    def _state_of(self, name: str, needed: int | None) -> ReplicaState:
        replayed, problem = self._ask(name, _REPLAYED)
        if problem:
            return ReplicaState(name, False, None, problem)
        if replayed is None:
            return ReplicaState(name, False, None, "it is not a replica")
        if needed is None or self._written is None:
            return ReplicaState(name, False, None, "the primary has not answered yet")
        is_late = replayed < needed
        lag = max(0, self._written - replayed)
        return ReplicaState(name, not is_late, lag, "it is behind the primary" if is_late else "")

    def _ask(self, name: str, question: str) -> tuple[int | None, str]:
        """Return a server's answer, or why there is none."""
        try:
            answer = ask(self._connection(name), question, ANSWER_S)
        except psycopg.Error as error:
            with suppress(psycopg.Error, KeyError):
                self._open.pop(name).close()
            return None, str(error).strip().partition("\n")[0] or "it does not answer"
        return (None if answer is None else int(answer)), ""

    def _connection(self, name: str) -> psycopg.Connection[Any]:
        known = self._open.get(name)
        if known is None or known.closed:
            # A server that accepts connections and never answers must not stop the looks at the others.
            known = psycopg.connect(
                **login_of(connections[name].get_connection_params()),
                autocommit=True,
                connect_timeout=int(ANSWER_S),
                application_name="benchlast-watch",
            )
            self._open[name] = known
        return known


@cache
def watch() -> ReplicaWatch:
    """Return the watch of this process over the replicas of DATABASE_REPLICA_URLS."""
    return ReplicaWatch(settings.REPLICAS)
