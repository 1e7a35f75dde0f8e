"""What a line of the list shows of a shoe: from the columns in memory, with its sizes by one query a page."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.domain.sieve import Ints
from catalogue.models import USES
from catalogue.selectors.public.columns import Columns
from catalogue.selectors.public.rows import SCORES, BandView, Score
from catalogue.selectors.public.sql import rows


@dataclass(frozen=True, slots=True)
class ListedShoe:
    """A published shoe as a line of the list; the band without what it suits, sizes in stock, ascending.

    The sizes are those of the store that was asked for, else of all stores. `stacks_mm` of heel and forefoot are nan
    where not stated, `photo` has digest and width of the smallest file ("" without one), `price` is in the practice's
    own currency.
    """

    slug: str
    brand: str
    name: str
    version: str
    use: str
    band: BandView
    scores: Mapping[str, Score]
    mass_g: float | None
    drop_mm: float | None
    is_discontinued: bool
    sizes: tuple[Decimal, ...]
    stacks_mm: tuple[float, float]
    photo: str
    price: float | None


_SIZES = """
SELECT DISTINCT shoe_id, size_eu FROM catalogue_stockitem WHERE shoe_id = ANY(%s) AND quantity > 0
ORDER BY shoe_id, size_eu
"""
_SIZES_IN_STORE = """
SELECT held.shoe_id, held.size_eu FROM catalogue_stockitem held JOIN core_store store ON store.id = held.store_id
WHERE held.shoe_id = ANY(%s) AND held.quantity > 0 AND store.slug = %s ORDER BY held.shoe_id, held.size_eu
"""


def sizes_of(shoe_ids: Sequence[int], store: str | None = None) -> Mapping[int, Sequence[Decimal]]:
    """Return the sizes of each shoe that a store has, or any store: one query, none without shoes."""
    sizes: defaultdict[int, list[Decimal]] = defaultdict(list)
    if not shoe_ids:
        return sizes
    lines = rows(_SIZES, list(shoe_ids)) if store is None else rows(_SIZES_IN_STORE, list(shoe_ids), store)
    for shoe, size in lines:
        sizes[shoe].append(size)
    return sizes


def listed_shoes(columns: Columns, listed: Ints, store: str | None = None) -> list[ListedShoe]:
    """Return some rows as lines of the list, in this order, with the sizes of a store or of all: one query."""
    sizes = sizes_of(columns.ids[listed].tolist(), store)
    return [_listed(columns, row, sizes) for row in listed.tolist()]


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value


def _listed(columns: Columns, row: int, sizes: Mapping[int, Sequence[Decimal]]) -> ListedShoe:
    known, u, df = (
        [_known(value) for value in table[row].tolist()] for table in (columns.values, columns.u, columns.df)
    )
    estimated = (False, False, False, bool(columns.is_estimated[row]))
    return ListedShoe(
        slug=columns.slugs[row],
        brand=columns.brands[row],
        name=columns.names[row],
        version=columns.versions[row],
        use=USES[columns.use[row]],
        band=BandView(
            order=int(columns.band[row]),
            name=columns.band_names[row],
            probability=_known(float(columns.band_probability[row])),
            borderline=bool(columns.is_borderline[row]),
            provisional=bool(columns.is_provisional[row]),
            neighbour=columns.neighbours[row] or None,
            suits="",
            runner_mass_max_kg=None,
        ),
        scores={name: Score(known[at] or 0.0, u[at], estimated[at], df[at]) for at, name in enumerate(SCORES)},
        mass_g=known[4],
        drop_mm=known[5],
        is_discontinued=bool(columns.is_discontinued[row]),
        sizes=tuple(sizes.get(int(columns.ids[row]), ())),
        stacks_mm=(float(columns.stacks[row, 0]), float(columns.stacks[row, 1])),
        photo=columns.photos[row],
        price=_known(float(columns.price[row])),
    )
