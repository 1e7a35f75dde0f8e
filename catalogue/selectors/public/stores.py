"""The stores as the public sees them, and what they hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, Exists, OuterRef
from django.db.models.functions import Coalesce

from catalogue.models import StockItem
from catalogue.selectors.public.revision import per_revision
from catalogue.selectors.public.rows import ShoeRow, current_cards, shoe_rows
from core.database.sources import read_connection
from core.domain.errors import DomainError
from core.domain.quoting import quoted
from core.models import Store


@dataclass(frozen=True, slots=True)
class StoreRow:
    """A store; `shoes` counts the published shoes that it has in stock in at least one size."""

    slug: str
    name: str
    street: str
    postcode: str
    town: str
    phone: str
    hours: str
    shoes: int


_COLUMNS = ("slug", "name", "street", "postcode", "town", "phone", "hours", "shoes")
# Triggers count: with five million lines of stock, counting them here took seconds after every change of one.
_SHOES = Coalesce("holding__shoes", 0)


def store_list() -> tuple[StoreRow, ...]:
    """Return the stores by name: one query."""
    stores = Store.objects.real().annotate(shoes=_SHOES).order_by("name", "slug")
    return tuple(StoreRow(*line) for line in stores.values_list(*_COLUMNS))


stores_at = per_revision(lambda _: store_list())


def store_names() -> Mapping[str, str]:
    """Return the names of the stores by short name, in the order of names: one query."""
    return dict(Store.objects.real().order_by("name", "slug").values_list("slug", "name"))


store_names_at = per_revision(lambda _: store_names())

# From each size to the next one by the index, instead of reading the stock of every store.
_SIZES = """
WITH RECURSIVE there(size) AS (
    (SELECT size_eu FROM catalogue_stockitem WHERE quantity > 0 ORDER BY size_eu LIMIT 1)
    UNION ALL
    SELECT (SELECT size_eu FROM catalogue_stockitem WHERE quantity > 0 AND size_eu > there.size
            ORDER BY size_eu LIMIT 1)
    FROM there WHERE there.size IS NOT NULL
)
SELECT size FROM there WHERE size IS NOT NULL
"""


def sizes_in_stock_anywhere() -> tuple[Decimal, ...]:
    """Return the sizes that some store has of some shoe, smallest first: one query."""
    with read_connection().cursor() as cursor:
        cursor.execute(_SIZES)
        return tuple(size for (size,) in cursor.fetchall())


sizes_at = per_revision(lambda _: sizes_in_stock_anywhere())


def store_get(slug: str) -> StoreRow:
    """Return one store, or raise a 404."""
    stores = Store.objects.real().filter(slug=slug).annotate(shoes=_SHOES)
    line = stores.values_list(*_COLUMNS).first()
    if line is None:
        raise DomainError(f"There is no store {quoted(slug)}.", code="not_found", status=404)
    return StoreRow(*line)


def stock_for_store(slug: str, *, limit: int, offset: int = 0) -> list[ShoeRow]:
    """Return the published shoes that a store holds, lowest stability first, each with its sizes there: two queries."""
    held = StockItem.objects.filter(shoe=OuterRef("shoe"), store__slug=slug, quantity__gt=0)
    cards = current_cards().filter(Exists(held)).order_by("stability", "shoe__slug")
    return shoe_rows(cards[offset : offset + limit], store=slug)


def shoes_by_band(slug: str) -> Mapping[int, int]:
    """Count the published shoes that a store has in stock in at least one size, by band: one query."""
    held = StockItem.objects.filter(shoe=OuterRef("shoe"), store__slug=slug, quantity__gt=0)
    lines = current_cards().filter(Exists(held)).order_by().values_list("band__order").annotate(Count("pk"))
    return dict(lines)
