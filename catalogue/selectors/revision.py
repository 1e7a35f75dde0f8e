"""The age of the catalogue."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TypeVar

from catalogue.models import CatalogueRevision
from catalogue.selectors.compiled import Compiled

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


@cache
def _read() -> Compiled:
    columns = ("number", "changed_at", "shoes_number", "shoes_changed_at")
    return Compiled(CatalogueRevision.objects.values_list(*columns))


def revision() -> Revision:
    """Return marks that differ after any change of what the catalogue shows; read them before the rest.

    They hold the moment of the change too, so that they never come back after a restore from a backup.
    """
    rows = _read().rows()
    if not rows:
        return Revision("0", "0")
    number, changed_at, shoes_number, shoes_changed_at = rows[0]
    shoes_at = shoes_changed_at.timestamp() if shoes_changed_at else 0.0
    return Revision(f"{number}-{changed_at.timestamp():.6f}", f"{shoes_number}-{shoes_at:.6f}")


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
