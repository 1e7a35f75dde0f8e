"""The age of the catalogue."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar

from django.db import connection
from psycopg.pq import ExecStatus

ReadT = TypeVar("ReadT")


@dataclass(frozen=True, slots=True)
class Revision:
    """Marks that differ after a change: `whole` after any, `shoes` after one of brands, shoes, scales or scores.

    Stock and stores change all day, what was measured hardly ever: what takes long to read follows `shoes`.
    """

    whole: str
    shoes: str

    def __str__(self) -> str:
        return self.whole


_MARKS = (
    "SELECT number, extract(epoch FROM changed_at), shoes_number, extract(epoch FROM shoes_changed_at)"
    " FROM catalogue_cataloguerevision"
)


def _quick() -> list[str] | None:
    """Ask by the bare connection, outside transactions alone; None where that can't be done.

    Every request asks this first, and a page that has not changed asks nothing else. An answer also shows that the
    connection works, so that Django need not ask a question of its own before the next one.
    """
    wrapper: Any = connection
    bare = wrapper.connection
    if bare is None or bare.closed or connection.in_atomic_block or not connection.get_autocommit():
        return None
    found = bare.pgconn.exec_(_MARKS.encode())
    if found.status != ExecStatus.TUPLES_OK or found.ntuples != 1:
        return None
    wrapper.health_check_done = True
    return [(found.get_value(0, column) or b"").decode() for column in range(4)]


def _asked() -> list[str] | None:
    with connection.cursor() as cursor:
        cursor.execute(_MARKS)
        row = cursor.fetchone()
    return None if row is None else ["" if value is None else str(value) for value in row]


def revision() -> Revision:
    """Return marks that differ after any change of what the catalogue shows; read them before the rest.

    They hold the moment of the change too, so that they never come back after a restore from a backup.
    """
    row = _quick() or _asked()
    if row is None:
        return Revision("0", "0")
    number, changed_at, shoes_number, shoes_changed_at = row
    return Revision(f"{number}-{changed_at}", f"{shoes_number}-{shoes_changed_at}")


def kept(read: Callable[[], ReadT]) -> Callable[[Revision], ReadT]:
    """Turn a read into one that is done once a revision in each process: call it with `revision()`.

    For small things that every page needs and that hardly ever change.
    """

    @lru_cache(maxsize=2)
    def at_mark(mark: str) -> ReadT:
        return read()

    return lambda at: at_mark(at.whole)


def kept_with_shoes(read: Callable[[], ReadT]) -> Callable[[Revision], ReadT]:
    """The same for what does not depend on stock or stores."""

    @lru_cache(maxsize=2)
    def at_mark(mark: str) -> ReadT:
        return read()

    return lambda at: at_mark(at.shoes)
