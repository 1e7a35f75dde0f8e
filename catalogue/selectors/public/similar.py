"""Which published shoes are alike."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.domain import similarity
from catalogue.domain.similarity import Difference, Prepared
from catalogue.selectors.public.columns import Columns, columns_at
from catalogue.selectors.public.revision import Revision
from catalogue.selectors.public.rows import ShoeRow, shoes_by_id
from catalogue.selectors.public.selection import shoe_ids_in_stock
from core.domain.errors import DomainError
from core.domain.quoting import quoted


@dataclass(frozen=True, slots=True)
class Available:
    """Only shoes that one can still buy: not discontinued, in stock, in a size or store where given."""

    size: Decimal | None = None
    store: str | None = None


@dataclass(frozen=True, slots=True)
class Similar:
    """A near shoe, how far it is, and how each feature differs from the shoe asked about."""

    shoe: ShoeRow
    distance: float
    differences: tuple[Difference, ...]


@dataclass(frozen=True, slots=True)
class SimilarPage:
    """Part of the published shoes by nearness to one, and how many there are in all."""

    shoes: tuple[Similar, ...]
    count: int


def prepared(columns: Columns) -> Prepared:
    return columns.once("similarity", lambda: similarity.prepare(columns.values, columns.u, columns.df))


def _row(columns: Columns, slug: str) -> int:
    if slug not in columns.rows:
        raise DomainError(f"There is no published shoe {quoted(slug)}.", code="not_found", status=404)
    return columns.rows[slug]


def similar_page(
    slug: str,
    *,
    revision: Revision,
    limit: int,
    offset: int = 0,
    available: Available | None = None,
    weighed: Collection[str] = (),
    with_stock: bool = True,
) -> SimilarPage:
    """Return the published shoes nearest to one, nearest first: two queries, one more where they must be available.

    Without stock it is one query: in 500 stores, what they hold of a few shoes takes longer than all the rest.

    What was measured ranks them; `weighed` are the features stated by the maker that count as well.
    """
    columns = columns_at(revision)
    here = _row(columns, slug)
    table = prepared(columns)
    among = None
    if available is not None:
        in_stock = shoe_ids_in_stock(store=available.store, size=available.size)
        among = columns.among(in_stock) & ~columns.is_discontinued
    over = (*similarity.MEASURED, *weighed)
    found = table.nearest(here, offset + limit, among, over)
    near = found.neighbours[offset:]
    ids = [int(columns.ids[other.index]) for other in near]
    shoes = {shoe.slug: shoe for shoe in shoes_by_id(ids, with_stock=with_stock)}
    return SimilarPage(
        tuple(
            Similar(shoes[slug], other.distance, table.explain(here, other.index, over))
            for other in near
            if (slug := columns.slugs[other.index]) in shoes
        ),
        found.comparable,
    )


def compare(slugs: Sequence[str], *, revision: Revision) -> list[tuple[Difference, ...]]:
    """Return how each shoe after the first differs from the first."""
    columns = columns_at(revision)
    first, *others = [_row(columns, slug) for slug in slugs]
    return [prepared(columns).explain(first, other) for other in others]
