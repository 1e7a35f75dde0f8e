"""Which shoes were changed since a revision that is known."""

from __future__ import annotations

from catalogue.selectors.public.revision import SHOES_MARK
from core.database.sources import read_connection

_SINCE = f"""
SELECT {SHOES_MARK.format(number="number", changed_at="changed_at")}, shoes
FROM catalogue_shoeschange WHERE number >= %s ORDER BY number
"""  # noqa: S608 -- no value of anybody's is in it


def changed_since(mark: str) -> list[int] | None:
    """Return the shoes that statements after a mark of the shoes touched; None where that is not known: one query.

    It can't where the list of changes does not reach back so far, where a change was of too many shoes to list, and
    where the mark is of another history, as after a restore.
    """
    with read_connection().cursor() as cursor:
        cursor.execute(_SINCE, [int(mark.partition("-")[0])])
        lines = cursor.fetchall()
    if not lines or lines[0][0] != mark or any(shoes is None for _, shoes in lines[1:]):
        return None
    return sorted({shoe for _, shoes in lines[1:] for shoe in shoes})
