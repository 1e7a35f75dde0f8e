"""What a line of the list shows of a shoe: from the columns in memory, with its sizes by one query a page."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache

from catalogue.domain.sieve import Ints
from catalogue.models import USES, StockItem
from catalogue.selectors.columns import Columns
from catalogue.selectors.compiled import SLOT, Compiled
from catalogue.selectors.rows import SCORES, BandView, Score


@dataclass(frozen=True, slots=True)
class ListedShoe:
    """A published shoe as a line of the list; the band without what it suits, sizes in stock anywhere, ascending."""

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


@cache
def _sizes_of() -> Compiled:
    stock = StockItem.objects.filter(shoe_id__in=[SLOT], quantity__gt=0)
    return Compiled(stock.order_by("shoe_id", "size_eu").values_list("shoe_id", "size_eu").distinct())


def sizes_of(shoe_ids: Sequence[int]) -> Mapping[int, Sequence[Decimal]]:
    """Return the sizes of each shoe that some store has: one query, none without shoes."""
    found: defaultdict[int, list[Decimal]] = defaultdict(list)
    if shoe_ids:
        for shoe, size in _sizes_of().rows(list(shoe_ids)):
            found[shoe].append(size)
    return found


def listed_shoes(columns: Columns, rows: Ints) -> list[ListedShoe]:
    """Return some rows as lines of the list, in this order: one query."""
    sizes = sizes_of(columns.ids[rows].tolist())
    return [_listed(columns, row, sizes) for row in rows.tolist()]


def _known(value: float) -> float | None:
    return None if math.isnan(value) else value


def _listed(columns: Columns, row: int, sizes: Mapping[int, Sequence[Decimal]]) -> ListedShoe:
    known, u = ([_known(value) for value in table[row].tolist()] for table in (columns.values, columns.u))
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
            neighbour=None,
            suits="",
            runner_mass_max_kg=None,
        ),
        scores={name: Score(known[at] or 0.0, u[at], estimated[at]) for at, name in enumerate(SCORES)},
        mass_g=known[4],
        drop_mm=known[5],
        is_discontinued=bool(columns.is_discontinued[row]),
        sizes=tuple(sizes.get(int(columns.ids[row]), ())),
    )
