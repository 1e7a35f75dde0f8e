"""The age of the catalogue."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeVar
from weakref import WeakSet

from psycopg.pq import ExecStatus

from catalogue.selectors.public.sql import own_connection
from core.database.sources import read_connection

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


# How a mark is written where SQL compares it.
SHOES_MARK = "{number} || '-' || coalesce((extract(epoch FROM {changed_at}) * 1000000)::bigint, 0)"

_MARKS = "SELECT number, changed_at, shoes_number, shoes_changed_at FROM catalogue_cataloguerevision"


_PREPARED = b"catalogue_revision"
# Which connections know the prepared question.
_ready: WeakSet[Any] = WeakSet()
# PostgreSQL counts microseconds from the beginning of 2000, everybody else from that of 1970.
_CENTURY = 946_684_800_000_000


def _quick() -> tuple[int, ...] | None:
    """Ask by the own connection, in binary and planned before; None where that can't be done.

    Every request asks this first, and a page that has not changed asks nothing else.
    """
    own = own_connection()
    if own is None:
        return None
    wrapper = read_connection()
    # A lost connection is reported as Django does it, which makes the answer a 503.
    with wrapper.wrap_database_errors:
        if own not in _ready:
            own.pgconn.prepare(_PREPARED, _MARKS.encode())
            _ready.add(own)
        found = own.pgconn.exec_prepared(_PREPARED, None, None, 1)
    if found.status != ExecStatus.TUPLES_OK or found.ntuples != 1:
        _ready.discard(own)
        return None
    wrapper.health_check_done = True
    number, changed_at, shoes_number, shoes_changed_at = (found.get_value(0, column) for column in range(4))
    return (_whole(number), _moment(changed_at), _whole(shoes_number), _moment(shoes_changed_at))


def _whole(value: bytes | None) -> int:
    return int.from_bytes(value or b"", "big", signed=True)


def _moment(value: bytes | None) -> int:
    return 0 if value is None else _CENTURY + _whole(value)


def _asked() -> tuple[int, ...] | None:
    with read_connection().cursor() as cursor:
        cursor.execute(_MARKS)
        row = cursor.fetchone()
    if row is None:
        return None
    number, changed_at, shoes_number, shoes_changed_at = row
    return (number, _micros(changed_at), shoes_number, _micros(shoes_changed_at))


def _micros(moment: dt.datetime | None) -> int:
    """Return the microseconds since 1970, exactly."""
    return 0 if moment is None else (moment - _EPOCH) // dt.timedelta(microseconds=1)


_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


def revision() -> Revision:
    """Return marks that differ after any change of what the catalogue shows; read them before the rest.

    They hold the moment of the change too, so that they never come back after a restore from a backup.
    """
    row = _quick() or _asked()
    if row is None:
        return Revision("0", "0")
    number, changed_at, shoes_number, shoes_changed_at = row
    return Revision(f"{number}-{changed_at}", f"{shoes_number}-{shoes_changed_at}")


def per_revision(read: Callable[[Revision], ReadT]) -> Callable[[Revision], ReadT]:
    """Turn a read into one that is done once a revision in each process: call it with `revision()`.

    For small things that every page shows: names of stores, sizes, the options of the form. Asked and written each
    time they took a third of a page's rate with 500 stores.
    """
    return lru_cache(maxsize=2)(read)


def kept_with_shoes(read: Callable[[], ReadT]) -> Callable[[Revision], ReadT]:
    """The same for what does not depend on stock or stores."""

    @lru_cache(maxsize=2)
    def at_mark(mark: str) -> ReadT:
        return read()

    return lambda at: at_mark(at.shoes)
