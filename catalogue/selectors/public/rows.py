"""One published shoe as values, read in one query, with what the stores hold of it in a second."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.contrib.postgres.aggregates import ArrayAgg
from django.db.models import QuerySet

from catalogue.models import ScoreCard, StockItem
from catalogue.selectors.public.photos import Photo
from catalogue.selectors.public.sql import rows
from core.domain.coverage import coverage_factor, whole_df

SCORES = ("stability", "midfoot", "rearfoot", "cushioning")


@dataclass(frozen=True, slots=True)
class Score:
    """A score and its standard uncertainty u (None where not known) with effective degrees of freedom.

    `df` is None where unlimited. U = k u, with k by `df`, cut off to a whole number.
    """

    value: float
    u: float | None
    estimated: bool = False
    df: float | None = None

    @property
    def coverage_factor(self) -> float | None:
        return None if self.u is None else coverage_factor(self.df)

    @property
    def degrees_of_freedom(self) -> int | None:
        return None if self.u is None else whole_df(self.df)

    @property
    def expanded_uncertainty(self) -> float | None:
        return None if self.u is None else coverage_factor(self.df) * self.u


@dataclass(frozen=True, slots=True)
class BandView:
    """The band a shoe was published in."""

    order: int
    name: str
    probability: float | None
    borderline: bool
    provisional: bool
    neighbour: str | None
    suits: str
    runner_mass_max_kg: float | None


@dataclass(frozen=True, slots=True)
class StoreSizes:
    """The sizes of a shoe that a store has in stock, smallest first.

    `known_at` is when the store last recorded a change of them, None where that was not asked or is not known.
    """

    slug: str
    name: str
    sizes: tuple[Decimal, ...]
    known_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True)
class ShoeRow:
    """A published shoe."""

    id: int
    slug: str
    brand: str
    name: str
    version: str
    use: str
    mass_g: float | None
    drop_mm: float | None
    stack_heel_mm: float | None
    stack_forefoot_mm: float | None
    is_discontinued: bool
    stability: Score
    midfoot: Score
    rearfoot: Score
    cushioning: Score
    band: BandView
    scale: str
    specimens: int
    tested_on: dt.date
    scoring_model: str
    protocol: str
    published_at: dt.datetime
    wearer: str
    widths: list[str]
    smallest_size_eu: Decimal | None
    largest_size_eu: Decimal | None
    stated_size_eu: Decimal | None
    removable_insole: bool | None
    season: str
    list_prices: dict[str, str]
    stores: tuple[StoreSizes, ...]
    photo: Photo | None = None

    @property
    def title(self) -> str:
        return f"{self.brand} {self.name} {self.version}".rstrip()

    def scores(self) -> dict[str, Score]:
        """Return the four scores by name, stability first."""
        return {name: getattr(self, name) for name in SCORES}


_COLUMNS = (
    "shoe_id",
    "shoe__slug",
    "shoe__brand__name",
    "shoe__name",
    "shoe__version",
    "shoe__use",
    "shoe__mass_g",
    "shoe__drop_mm",
    "shoe__stack_heel_mm",
    "shoe__stack_forefoot_mm",
    "shoe__is_discontinued",
    "shoe__wearer",
    "shoe__widths",
    "shoe__smallest_size_eu",
    "shoe__largest_size_eu",
    "shoe__stated_size_eu",
    "shoe__removable_insole",
    "shoe__season",
    "shoe__list_prices",
    "stability",
    "stability_u",
    "midfoot",
    "midfoot_u",
    "rearfoot",
    "rearfoot_u",
    "cushioning",
    "cushioning_u",
    "cushioning_estimated",
    "stability_df",
    "midfoot_df",
    "rearfoot_df",
    "cushioning_df",
    "band__order",
    "band__name",
    "band_probability",
    "is_borderline",
    "is_provisional",
    "neighbour__name",
    "band__suits",
    "band__runner_mass_max_kg",
    "scale__version",
    "specimens",
    "tested_on",
    "scoring_model",
    "protocol",
    "published_at",
    "shoe__photo__digest",
    "shoe__photo__alternative_text",
    "shoe__photo__widths_px",
    "shoe__photo__heights_px",
)


def current_cards() -> QuerySet[ScoreCard]:
    """Return the published score cards: what the public may see."""
    return ScoreCard.objects.filter(is_current=True)


def sizes_in_stock(
    shoe_ids: Iterable[int], *, store: str | None = None, sizes: tuple[Decimal, Decimal] | None = None
) -> dict[int, tuple[StoreSizes, ...]]:
    """Return what the stores hold of each shoe, stores by name; `sizes` are the smallest and largest asked for."""
    stock = StockItem.objects.filter(shoe_id__in=list(shoe_ids), quantity__gt=0)
    if sizes is not None:
        stock = stock.filter(size_eu__range=sizes)
    if store is not None:
        stock = stock.filter(store__slug=store)
    lines = stock.values_list("shoe_id", "store__slug", "store__name")
    return _of_shoes(lines.annotate(sizes=ArrayAgg("size_eu", order_by="size_eu")).order_by(*_STORE_ORDER))


_STORE_ORDER = ("store__name", "store__slug")
# The same for all sizes and stores, and no store's name is looked at before the sizes are together: by the thousand,
# ordering lines by names takes longer than all the rest.
_HELD = """
SELECT held.shoe_id, store.slug, store.name, held.sizes, (
    SELECT max(movement.at) FROM catalogue_stockmovement movement
    WHERE movement.shoe_id = held.shoe_id AND movement.store_id = held.store_id
) FROM (
    SELECT shoe_id, store_id, array_agg(size_eu ORDER BY size_eu) AS sizes FROM catalogue_stockitem
    WHERE shoe_id = ANY(%s) AND quantity > 0 GROUP BY shoe_id, store_id
) AS held JOIN core_store AS store ON store.id = held.store_id ORDER BY store.name, store.slug
"""


def _of_shoes(lines: Iterable[Sequence[Any]]) -> dict[int, tuple[StoreSizes, ...]]:
    found: defaultdict[int, list[StoreSizes]] = defaultdict(list)
    for shoe_id, slug, name, sizes, *known_at in lines:
        found[shoe_id].append(StoreSizes(slug, name, tuple(sizes), *known_at))
    return {shoe_id: tuple(held) for shoe_id, held in found.items()}


def shoes_by_id(ids: Sequence[int], *, with_stock: bool = True) -> list[ShoeRow]:
    """Read the published ones of these shoes in the order given: two queries, one without stock."""
    if not ids:
        return []
    stock = _of_shoes(rows(_HELD, list(ids))) if with_stock else {}
    cards = current_cards().filter(shoe_id__in=ids).order_by().values_list(*_COLUMNS)
    by_id = {line[0]: _row(line, stock.get(line[0], ())) for line in cards}
    return [by_id[shoe] for shoe in ids if shoe in by_id]


def shoe_by_slug(slug: str) -> ShoeRow | None:
    """Read one published shoe: two queries, one where it is not there."""
    line = current_cards().filter(shoe__slug=slug).order_by("pk").values_list(*_COLUMNS).first()
    return None if line is None else _row(line, _of_shoes(rows(_HELD, [line[0]])).get(line[0], ()))


def _score(cells: Mapping[str, Any], name: str) -> Score:
    estimated = name == "cushioning" and cells["cushioning_estimated"]
    return Score(cells[name], cells[f"{name}_u"], estimated, cells[f"{name}_df"])


def _row(values: Sequence[Any], stores: tuple[StoreSizes, ...]) -> ShoeRow:
    cells = dict(zip(_COLUMNS, values, strict=True))
    return ShoeRow(
        id=cells["shoe_id"],
        brand=cells["shoe__brand__name"],
        **{name: cells[f"shoe__{name}"] for name in _OF_SHOE},
        stability=_score(cells, "stability"),
        midfoot=_score(cells, "midfoot"),
        rearfoot=_score(cells, "rearfoot"),
        cushioning=_score(cells, "cushioning"),
        band=BandView(
            order=cells["band__order"],
            name=cells["band__name"],
            probability=cells["band_probability"],
            borderline=cells["is_borderline"],
            provisional=cells["is_provisional"],
            neighbour=cells["neighbour__name"],
            suits=cells["band__suits"],
            runner_mass_max_kg=cells["band__runner_mass_max_kg"],
        ),
        scale=cells["scale__version"],
        **{name: cells[name] for name in _OF_CARD},
        stores=stores,
        photo=_photo(cells),
    )


def _photo(cells: Mapping[str, Any]) -> Photo | None:
    digest, text, widths, heights = (cells[f"shoe__photo__{name}"] for name in _OF_PHOTO)
    return None if digest is None else Photo(digest, text, tuple(zip(widths, heights, strict=True)))


_OF_SHOE = (
    "slug",
    "name",
    "version",
    "use",
    "mass_g",
    "drop_mm",
    "stack_heel_mm",
    "stack_forefoot_mm",
    "is_discontinued",
    "wearer",
    "widths",
    "smallest_size_eu",
    "largest_size_eu",
    "stated_size_eu",
    "removable_insole",
    "season",
    "list_prices",
)
_OF_PHOTO = ("digest", "alternative_text", "widths_px", "heights_px")
_OF_CARD = ("specimens", "tested_on", "scoring_model", "protocol", "published_at")


def shoe_rows(
    cards: QuerySet[ScoreCard], *, store: str | None = None, sizes: tuple[Decimal, Decimal] | None = None
) -> list[ShoeRow]:
    """Read published shoes in the order of the cards given: two queries, however many shoes."""
    lines = list(cards.values_list(*_COLUMNS))
    stock = sizes_in_stock([line[0] for line in lines], store=store, sizes=sizes) if lines else {}
    return [_row(line, stock.get(line[0], ())) for line in lines]
