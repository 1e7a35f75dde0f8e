"""The age of the catalogue."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import TypeVar

from catalogue.models import CatalogueRevision

ReadT = TypeVar("ReadT")


def revision() -> str:
    """Return a text that differs after any change of what the catalogue shows; read it before the rest.

    It holds the moment of the change too, so that it never comes back after a restore from a backup.
    """
    row = CatalogueRevision.objects.values_list("number", "changed_at").first()
    return "0" if row is None else f"{row[0]}-{row[1].timestamp():.6f}"


def kept(read: Callable[[], ReadT]) -> Callable[[str], ReadT]:
    """Turn a read into one that is done once a revision in each process: call it with `revision()`.

    For small things that every page needs and that hardly ever change.
    """

    @lru_cache(maxsize=2)
    def at_revision(mark: str) -> ReadT:
        return read()

    return at_revision
