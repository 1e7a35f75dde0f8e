"""What a filter leaves of the published shoes: counts, pages, and where every shoe is in a drawing.

Stock and words are asked of the database by index; the rest is answered by the columns in memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from catalogue.domain.filters import ShoeFilter
from catalogue.domain.search_words import search_query
from catalogue.domain.sieve import Bools, Ints, Sieve, between, ordered, sieve
from catalogue.models import USES, WEARERS, Wearer
from catalogue.selectors.public.columns import WIDTHS_BETWEEN, Columns, columns_at
from catalogue.selectors.public.revision import Revision
from catalogue.selectors.public.rows import ShoeRow, shoes_by_id
from catalogue.selectors.public.sql import rows

_STOCK = ("size", "store")


@dataclass(frozen=True, slots=True)
class FilterCounts:
    """How many shoes a filter leaves.

    `by_band` and `by_use` count what each choice would leave with the rest of the filter as it is.
    """

    published: int
    matching: int
    by_band: Mapping[int, int]
    by_use: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class ShoePoint:
    """A published shoe as it is in a drawing; `is_match` says whether the filter leaves it.

    The scores are stability, midfoot, rearfoot and cushioning; `…_u` are expanded uncertainties.
    """

    slug: str
    brand: str
    name: str
    version: str
    stability: float
    expanded_u: float | None
    band_order: int
    band_name: str
    is_match: bool
    midfoot: float = 0.0
    midfoot_u: float | None = None
    rearfoot: float = 0.0
    rearfoot_u: float | None = None
    cushioning: float = 0.0

    @property
    def title(self) -> str:
        return f"{self.brand} {self.name} {self.version}".rstrip()


@dataclass(frozen=True, slots=True, eq=False)
class Selection:
    """The published shoes under a filter.

    `asked` are the rows that the database left, by words ("q") and by stock; `held` are those in all of them, None
    where it was not asked. The sieve runs over these alone, so that a store and a size make everything else cheap.
    """

    columns: Columns
    wanted: ShoeFilter
    asked: Mapping[str, Ints]
    held: Ints | None
    sieve: Sieve

    @property
    def matching(self) -> int:
        return int(np.count_nonzero(self.sieve.left))

    def left_rows(self) -> Ints:
        """Return the rows that the filter leaves, in the order of the table."""
        return self._rows(self.sieve.left)

    def _rows(self, left: Bools) -> Ints:
        found: Ints = np.flatnonzero(left) if self.held is None else self.held[left]
        return found

    def counts(self, bands: Sequence[int]) -> FilterCounts:
        """Count what the filter leaves, by band and by use."""
        of_bands, of_uses = (self._rows(self.sieve.left_without(part)) for part in ("band", "use"))
        by_band = np.bincount(self.columns.band[of_bands], minlength=max(bands, default=0) + 1)
        by_use = np.bincount(self.columns.use[of_uses], minlength=len(USES))
        return FilterCounts(
            published=self.columns.count,
            matching=self.matching,
            by_band={order: int(by_band[order]) for order in bands},
            by_use={use: int(by_use[place]) for place, use in enumerate(USES)},
        )

    def left_without_each(self) -> dict[str, int]:
        """Count what would be left without each part of the filter: asked where nothing is left."""
        return {part: self._without(part).matching for part in self.wanted.active()}

    def _without(self, part: str) -> Selection:
        asked = dict(self.asked)
        asked.pop("stock" if part in _STOCK else part, None)
        # Size and store are one condition, the size in that store; without one, the other stays.
        rest = self.wanted.without(part)
        if part in _STOCK and (rest.size or rest.store):
            asked["stock"] = self.columns.rows_of(shoe_ids_in_stock(size=rest.size_eu, store=rest.store))
        return _sieved(self.columns, rest, asked)

    def page(self, *, limit: int, offset: int = 0) -> Ints:
        """Return the rows of one page of the list, in the order asked."""
        order = self.wanted.order
        rows = self.columns.in_order(self.left_rows(), order.removeprefix("-"), is_descending=order.startswith("-"))
        return rows[offset : offset + limit]

    def read(self, chosen: Ints) -> list[ShoeRow]:
        """Read the shoes of some rows, in this order, with their stock: two queries."""
        return shoes_by_id([int(shoe) for shoe in self.columns.ids[chosen]])

    def points(self, rows: Ints | None = None) -> list[ShoePoint]:
        """Return shoes as points, lowest stability first: these rows, or all."""
        held = np.arange(self.columns.count) if rows is None else rows
        left = np.zeros(self.columns.count, dtype=np.bool_)
        left[self.left_rows()] = True
        return [
            _point(self.columns, int(row), is_match=bool(left[row]))
            for row in held[ordered(self.columns.values[held, 0])]
        ]


def _point(columns: Columns, row: int, *, is_match: bool) -> ShoePoint:
    stability, midfoot, rearfoot, cushioning = (float(value) for value in columns.values[row, :4])
    expanded_u, midfoot_u, rearfoot_u = (None if np.isnan(u) else float(u) for u in columns.expanded[row, :3])
    return ShoePoint(
        slug=columns.slugs[row],
        brand=columns.brands[row],
        name=columns.names[row],
        version=columns.versions[row],
        stability=stability,
        expanded_u=expanded_u,
        band_order=int(columns.band[row]),
        band_name=columns.band_names[row],
        is_match=is_match,
        midfoot=midfoot,
        midfoot_u=midfoot_u,
        rearfoot=rearfoot,
        rearfoot_u=rearfoot_u,
        cushioning=cushioning,
    )


# A store and a size have at most one line of a shoe; each of them alone has several.
_IN_STORE_AND_SIZE = """
SELECT held.shoe_id FROM catalogue_stockitem held JOIN core_store store ON store.id = held.store_id
WHERE held.quantity > 0 AND held.size_eu = %s AND store.slug = %s
"""
_IN_SIZE = "SELECT DISTINCT shoe_id FROM catalogue_stockitem WHERE quantity > 0 AND size_eu = %s"
_IN_STORE = """
SELECT DISTINCT held.shoe_id FROM catalogue_stockitem held JOIN core_store store ON store.id = held.store_id
WHERE held.quantity > 0 AND store.slug = %s
"""
_ANYWHERE = "SELECT shoe_id FROM catalogue_shoeholding WHERE stores > 0"
_NAMED = "SELECT shoe_id FROM catalogue_shoesearch WHERE document @@ to_tsquery('simple', %s)"


def shoe_ids_in_stock(*, store: str | None = None, size: Decimal | None = None) -> list[int]:
    """Return the shoes in stock, in one size or store where given: one query by index."""
    statements = {(False, False): _ANYWHERE, (True, False): _IN_SIZE, (False, True): _IN_STORE}
    statement = statements.get((size is not None, store is not None), _IN_STORE_AND_SIZE)
    return [shoe for (shoe,) in rows(statement, *(value for value in (size, store) if value is not None))]


def shoe_ids_named(words: str) -> list[int]:
    """Return the shoes, published or not, whose brand, name and version hold these words: one query by index."""
    asked = search_query(words)
    return [shoe for (shoe,) in rows(_NAMED, asked)] if asked else []


def _one_of(values: Ints, wanted: Sequence[int]) -> Bools:
    found: Bools = values == wanted[0] if len(wanted) == 1 else np.isin(values, wanted)
    return found


def wearers_for(wearer: str) -> list[int]:
    """Return the places of those for whom a shoe may be made that this wearer can wear: men also what is for all."""
    fitting = (wearer,) if wearer == Wearer.CHILDREN else (wearer, Wearer.ALL)
    return [WEARERS.index(one) for one in fitting]


def _sets_with(width: str, columns: Columns) -> list[int]:
    return [place for place, held in enumerate(columns.width_sets) if width in held.split(WIDTHS_BETWEEN)]


def _has_photo(columns: Columns) -> Bools:
    return np.array([bool(photo) for photo in columns.photos], dtype=np.bool_)


def widths_offered(columns: Columns) -> tuple[str, ...]:
    """Return the width fittings that published shoes have, in the order of the alphabet."""
    widths = {width for held in columns.width_sets for width in held.split(WIDTHS_BETWEEN) if width}
    return tuple(sorted(widths))


def _conditions(wanted: ShoeFilter, columns: Columns, held: Ints | slice) -> dict[str, Bools]:
    """Say for each part of the filter that is in memory which of these rows meet it."""
    found: dict[str, Bools] = {}
    for part in wanted.active():
        match part:
            case "q" | "size" | "store":
                continue
            case "band":
                found[part] = _one_of(columns.band[held], wanted.bands)
            case "use":
                found[part] = _one_of(columns.use[held], [USES.index(use) for use in wanted.uses])
            case "wearer":
                found[part] = np.isin(columns.wearer[held], wearers_for(wanted.wearer or ""))
            case "width":
                found[part] = np.isin(columns.width[held], _sets_with(wanted.width or "", columns))
            case "photo":
                found[part] = columns.once("has_photo", lambda: _has_photo(columns))[held]
            case _:
                values = columns.feature(part)[held]
                found[part] = between(values, getattr(wanted, f"{part}_min", None), getattr(wanted, f"{part}_max"))
    return found


def _asked(wanted: ShoeFilter, columns: Columns) -> dict[str, Ints]:
    """Ask the database for what only it knows: words and stock."""
    found: dict[str, Ints] = {}
    if wanted.q:
        found["q"] = columns.rows_of(shoe_ids_named(wanted.q))
    if wanted.size is not None or wanted.store is not None:
        found["stock"] = columns.rows_of(shoe_ids_in_stock(size=wanted.size_eu, store=wanted.store))
    return found


def _sieved(columns: Columns, wanted: ShoeFilter, asked: Mapping[str, Ints]) -> Selection:
    held: Ints | None = None
    for part in asked.values():
        held = part if held is None else np.intersect1d(held, part, assume_unique=True)
    count = columns.count if held is None else len(held)
    conditions = _conditions(wanted, columns, slice(None) if held is None else held)
    return Selection(columns, wanted, asked, held, sieve(conditions, count))


def select_shoes(wanted: ShoeFilter, *, revision: Revision) -> Selection:
    """Return what a filter leaves: at most three queries, for words and stock."""
    columns = columns_at(revision)
    return _sieved(columns, wanted, _asked(wanted, columns))
