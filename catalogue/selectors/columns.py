"""Every published shoe as columns in memory: read once, then mended where a publication changed something.

Filters, counts, orders, drawings and nearness all ask of every shoe at once: arrays answer that in well under a
millisecond where a hundred thousand rows of the database would take a tenth of a second.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cache
from threading import Lock
from typing import Any

import numpy as np

from catalogue.domain.sieve import FEW, Bools, Floats, Ints, ordered, picked
from catalogue.domain.similarity import FEATURES
from catalogue.models import USES
from catalogue.selectors.changes import changed_since
from catalogue.selectors.compiled import SLOT, Compiled
from catalogue.selectors.mending import Lines, Mended, mend
from catalogue.selectors.revision import Revision
from catalogue.selectors.rows import SCORES, current_cards

_TEXTS = ("shoe__slug", "shoe__brand__name", "shoe__name", "shoe__version", "band__name", "shoe__use")
_WHOLE = ("shoe_id", "band__order")
_FLAGS = ("shoe__is_discontinued", "cushioning_estimated", "is_borderline", "is_provisional")
_NUMBERS = (*SCORES, "shoe__mass_g", "shoe__drop_mm", *(f"{name}_u" for name in SCORES), "band_probability")
_FEATURE = {"mass": "mass_g", "drop": "drop_mm"}
_ALL = (*_TEXTS, *_WHOLE, *_FLAGS, *_NUMBERS)


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The published shoes by slug, one row each.

    `values` and `u` have the columns of `similarity.FEATURES`, shape (n, 6), nan where not known, like
    `band_probability`. `place` leads from the id of a shoe to its row, or −1. `orders` keeps those that were asked for.
    """

    ids: Ints
    place: Ints
    rows: dict[str, int]
    slugs: tuple[str, ...]
    brands: tuple[str, ...]
    names: tuple[str, ...]
    versions: tuple[str, ...]
    band_names: tuple[str, ...]
    band: Ints
    use: Ints
    is_discontinued: Bools
    is_estimated: Bools
    is_borderline: Bools
    is_provisional: Bools
    values: Floats
    u: Floats
    band_probability: Floats
    by_name: Floats
    orders: dict[tuple[str, bool], Ints] = field(default_factory=dict, repr=False)

    @property
    def count(self) -> int:
        return len(self.slugs)

    def title(self, row: int) -> str:
        return f"{self.brands[row]} {self.names[row]} {self.versions[row]}".rstrip()

    def feature(self, name: str) -> Floats:
        """Return one of `similarity.FEATURES`, or how the names lie in the alphabet ("name")."""
        if name == "name":
            return self.by_name
        found: Floats = self.values[:, FEATURES.index(_FEATURE.get(name, name))]
        return found

    def in_order(self, rows: Ints, name: str, *, is_descending: bool) -> Ints:
        """Return rows, which are given as they lie, in the order of a value; missing values last either way.

        Few are sorted; many are picked from the order of all shoes, which is worked out once a revision.
        """
        values, key = self.feature(name), (name, is_descending)
        if len(rows) < self.count * FEW:
            found: Ints = rows[ordered(values[rows], is_descending=is_descending)]
            return found
        if key not in self.orders:
            self.orders[key] = ordered(values, is_descending=is_descending)
        return picked(self.orders[key], rows)

    def rows_of(self, shoe_ids: Iterable[int]) -> Ints:
        """Return the rows of these shoes, in order, each once; ids that are not published are let be."""
        wanted = np.fromiter(shoe_ids, dtype=np.intp)
        places = self.place[wanted[wanted < len(self.place)]]
        found: Ints = np.unique(places[places >= 0])
        return found

    def among(self, shoe_ids: Iterable[int]) -> Bools:
        """Say for every row whether its shoe is one of these."""
        found: Bools = np.zeros(self.count, dtype=np.bool_)
        found[self.rows_of(shoe_ids)] = True
        return found


@cache
def _all_lines() -> Compiled:
    return Compiled(current_cards().order_by().values_list(*_ALL))


@cache
def _lines_of() -> Compiled:
    return Compiled(current_cards().filter(shoe_id__in=[SLOT]).order_by().values_list(*_ALL))


def _lines(found: Iterable[tuple[Any, ...]]) -> Lines:
    """Turn rows of the database into columns, by slug; in the order of characters, whatever the database's is."""
    lines = sorted(found)
    columns = list(zip(*lines, strict=True)) if lines else [()] * len(_ALL)
    slugs, brands, names, versions, band_names, uses, ids, band = columns[:8]
    known = np.array(columns[12:], dtype=np.float64).reshape(len(_NUMBERS), len(lines)).T
    return Lines(
        # A hundred thousand shoes have a few hundred brands: each is held once.
        texts=(slugs, _once(brands), names, _once(versions), _once(band_names)),
        ids=np.array(ids, dtype=np.intp),
        marks=np.array([band, [USES.index(use) for use in uses]], dtype=np.intp).T,
        flags=np.array(columns[8:12], dtype=np.bool_).reshape(len(_FLAGS), len(lines)).T,
        numbers=known,
    )


def _once(texts: Sequence[str]) -> tuple[str, ...]:
    seen: dict[str, str] = {}
    return tuple(seen.setdefault(text, text) for text in texts)


def _columns(mended: Mended) -> Columns:
    lines = mended.lines
    slugs, brands, names, versions, band_names = lines.texts
    place = np.full(int(lines.ids.max(initial=-1)) + 1, -1, dtype=np.intp)
    place[lines.ids] = np.arange(len(slugs))
    known = np.asfortranarray(lines.numbers)
    return Columns(
        ids=lines.ids,
        place=place,
        rows=mended.rows,
        slugs=slugs,
        brands=brands,
        names=names,
        versions=versions,
        band_names=band_names,
        band=np.ascontiguousarray(lines.marks[:, 0]),
        use=np.ascontiguousarray(lines.marks[:, 1]),
        is_discontinued=np.ascontiguousarray(lines.flags[:, 0]),
        is_estimated=np.ascontiguousarray(lines.flags[:, 1]),
        is_borderline=np.ascontiguousarray(lines.flags[:, 2]),
        is_provisional=np.ascontiguousarray(lines.flags[:, 3]),
        values=known[:, :6],
        # Mass and drop are stated, not tested: nothing is known of their uncertainty.
        u=np.asfortranarray(np.hstack([known[:, 6:10], np.full((len(slugs), 2), np.nan)])),
        band_probability=known[:, 10],
        by_name=mended.by_name,
    )


class _Held:
    """The columns of the last two revisions of the shoes, in this process."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._kept: dict[str, tuple[Mended, Columns]] = {}

    def at(self, revision: Revision) -> Columns:
        found = self._kept.get(revision.shoes)
        if found is None:
            # One thread reads, the others wait for it.
            with self._lock:
                found = self._kept.get(revision.shoes) or self._read(revision.shoes)
        return found[1]

    def _read(self, mark: str) -> tuple[Mended, Columns]:
        """Mend what is held by the shoes that changed since, or read all of them.

        What is read may be newer than the mark: then the next mending does the same once more.
        """
        known = next(reversed(self._kept), None)
        changed = None if known is None else changed_since(known)
        if known is None or changed is None:
            mended = mend(None, (), _lines(_all_lines().rows()))
        else:
            mended = mend(self._kept[known][0], changed, _lines(_lines_of().rows(changed)))
        found = (mended, _columns(mended))
        self._kept = dict([*self._kept.items(), (mark, found)][-2:])
        return found


_held = _Held()


def columns_at(revision: Revision) -> Columns:
    """Return every published shoe as columns: no query where the revision is known."""
    return _held.at(revision)
