"""What a manager sees of a store's wall: shoes with their pairs by size, and whether their wall cards still hold."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, Exists, F, FilteredRelation, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from catalogue.domain.ordering import lines_by_width
from catalogue.models import PrintedCard, PrintRun, ScoreCard, Shoe, StockItem
from catalogue.selectors.public.rows import ShoeRow, shoe_rows
from catalogue.selectors.stock.stock_work import recorded_widths
from core.models import Store

HERE, ELSEWHERE, EVERYTHING = "here", "elsewhere", "all"
SCOPES = {HERE: "in stock here", ELSEWHERE: "not in stock here", EVERYTHING: "all shoes"}
CARD_STATES = {"old": "card out of date", "none": "no card yet", "good": "card up to date"}


@dataclass(frozen=True, slots=True)
class WallFilter:
    """Which shoes a manager wants to see; an empty value does not narrow."""

    scope: str = HERE
    band: int | None = None
    q: str = ""
    card: str = ""
    published_only: bool = False


@dataclass(frozen=True, slots=True)
class CardState:
    """The last wall card of a shoe: when it was printed, what it says, and what is published now.

    `kind` is "good", "old" (the scores changed since) or "down" (the shoe is not published any more).
    """

    kind: str
    printed_at: dt.datetime
    stability: float
    band: str


@dataclass(frozen=True, slots=True)
class WallShoe:
    """A shoe as a store's staff see it; band, stability and card are None where nothing is published or printed."""

    id: int
    slug: str
    title: str
    band_order: int | None
    band_name: str | None
    stability: float | None
    card: CardState | None

    @property
    def is_published(self) -> bool:
        return self.band_order is not None


def _last_cards(store: Store) -> QuerySet[PrintedCard]:
    """Return the last printed card of each shoe in a store."""
    hanging = PrintedCard.objects.filter(run__store=store, run__is_withdrawn=False)
    last = hanging.order_by("shoe_id", "-run__printed_at", "-run_id").distinct("shoe_id")
    # Apart, so that a further filter asks of the last card and does not choose another one.
    return PrintedCard.objects.filter(pk__in=last.values("pk"))


def _shoes(store: Store, wanted: WallFilter) -> QuerySet[Shoe]:
    shoes = Shoe.objects.annotate(
        current=FilteredRelation("score_cards", condition=Q(score_cards__is_current=True)),
        here=Exists(StockItem.objects.filter(store=store, shoe=OuterRef("pk"), quantity__gt=0)),
    )
    if wanted.scope != EVERYTHING:
        shoes = shoes.filter(here=wanted.scope == HERE)
    if wanted.published_only or wanted.card:
        shoes = shoes.filter(current__isnull=False)
    if wanted.band is not None:
        shoes = shoes.filter(current__band__order=wanted.band)
    for word in wanted.q.split():
        shoes = shoes.filter(Q(brand__name__icontains=word) | Q(name__icontains=word) | Q(version__icontains=word))
    if wanted.card:
        last = _last_cards(store).filter(shoe=OuterRef("pk"))
        holds = last.filter(score_card__is_current=True)
        shoes = shoes.filter(
            {"good": Exists(holds), "old": Exists(last) & ~Exists(holds), "none": ~Exists(last)}[wanted.card]
        )
    return shoes


def wall_count(store: Store, wanted: WallFilter) -> int:
    return _shoes(store, wanted).count()


def wall_shoe_ids(store: Store, wanted: WallFilter, *, limit: int) -> list[int]:
    """Return the shoes of a filter by stability, so many at most."""
    return list(_in_order(_shoes(store, wanted)).values_list("pk", flat=True)[:limit])


def _in_order(shoes: QuerySet[Shoe]) -> QuerySet[Shoe]:
    return shoes.order_by(F("current__stability").asc(nulls_last=True), "slug")


_COLUMNS = (
    "pk",
    "slug",
    "brand__name",
    "name",
    "version",
    "current__band__order",
    "current__band__name",
    "current__stability",
)


def _rows(store: Store, shoes: QuerySet[Shoe]) -> list[WallShoe]:
    lines = list(shoes.values_list(*_COLUMNS))
    cards = card_states(store, [line[0] for line in lines])
    return [
        WallShoe(pk, slug, f"{brand} {name} {version}".rstrip(), order, band, stability, cards.get(pk))
        for pk, slug, brand, name, version, order, band, stability in lines
    ]


def wall_shoes(store: Store, wanted: WallFilter, *, limit: int, offset: int = 0) -> list[WallShoe]:
    """Return one page of shoes, lowest stability first, unpublished ones last: two queries."""
    return _rows(store, _in_order(_shoes(store, wanted))[offset : offset + limit])


def wall_shoes_by_id(store: Store, ids: Sequence[int]) -> list[WallShoe]:
    """Return these shoes, in the order given: two queries."""
    rows = {row.id: row for row in _rows(store, _shoes(store, WallFilter(scope=EVERYTHING)).filter(pk__in=ids))}
    return [rows[pk] for pk in ids if pk in rows]


def card_states(store: Store, shoes: Sequence[int]) -> Mapping[int, CardState]:
    """Return the state of the last wall card of each of these shoes."""
    published = Exists(Shoe.objects.published().filter(pk=OuterRef("shoe")))
    lines = (
        _last_cards(store)
        .filter(shoe__in=shoes)
        .annotate(is_published=published)
        .values_list(
            "shoe_id",
            "score_card__is_current",
            "is_published",
            "run__printed_at",
            "score_card__stability",
            "score_card__band__name",
        )
    )
    return {
        shoe: CardState("good" if holds else "old" if is_published else "down", at, stability, band)
        for shoe, holds, is_published, at, stability, band in lines
    }


def cards_that_fail(store: Store) -> list[WallShoe]:
    """Return the shoes whose last wall card no longer says what is published, lowest stability first."""
    shoes = list(_last_cards(store).filter(score_card__is_current=False).values_list("shoe_id", flat=True))
    return _rows(store, _in_order(_shoes(store, WallFilter(scope=EVERYTHING)).filter(pk__in=shoes))) if shoes else []


def print_runs(store: Store, *, limit: int) -> list[PrintRun]:
    """Return the newest runs of wall cards, with who printed them and their cards."""
    runs = PrintRun.objects.filter(store=store).select_related("printed_by").prefetch_related("cards")
    return list(runs.order_by("-printed_at", "-pk")[:limit])


def pairs_at(store: Store) -> int:
    return StockItem.objects.filter(store=store).aggregate(pairs=Sum("quantity"))["pairs"] or 0


@dataclass(frozen=True, slots=True)
class StockLineRow:
    """One line of a store's stock, for a file; `width` is empty where it is not known."""

    slug: str
    title: str
    band: str
    size_eu: Decimal
    width: str
    quantity: int


def stock_lines_of(store: Store) -> list[StockLineRow]:
    """Return a store's whole stock by shoe, size and width, sold out sizes too: two queries."""
    lines = (
        StockItem.objects.filter(store=store)
        .annotate(current=FilteredRelation("shoe__score_cards", condition=Q(shoe__score_cards__is_current=True)))
        .order_by("shoe__slug", "size_eu")
        .values_list(
            "shoe__slug",
            "shoe__brand__name",
            "shoe__name",
            "shoe__version",
            "current__band__name",
            "shoe_id",
            "size_eu",
            "quantity",
        )
    )
    recorded = recorded_widths(store)
    return [
        StockLineRow(slug, f"{brand} {name} {version}".rstrip(), band or "", size, width, pairs)
        for slug, brand, name, version, band, shoe, size, quantity in lines
        for width, pairs in sorted(lines_by_width(quantity, recorded.get((shoe, size), {})).items())
    ]


@dataclass(frozen=True, slots=True)
class BandSize:
    """How many published shoes of a band a store has in a size, and how many pairs of them."""

    band: int
    size_eu: Decimal
    shoes: int
    pairs: int


@dataclass(frozen=True, slots=True)
class Absent:
    """A published shoe that is not in stock in a store; `stores` counts the others that have it."""

    slug: str
    title: str
    band: int
    stability: float
    stores: int


def stock_by_band_and_size(store: Store) -> list[BandSize]:
    """Count what is in stock by band and size, of published shoes alone."""
    lines = (
        StockItem.objects.filter(store=store, quantity__gt=0, shoe__score_cards__is_current=True)
        .order_by("shoe__score_cards__band__order", "size_eu")
        .values_list("shoe__score_cards__band__order", "size_eu")
        .annotate(Count("shoe"), Sum("quantity"))
    )
    return [BandSize(*line) for line in lines]


def absent_shoes(store: Store, *, limit: int) -> list[Absent]:
    """Return published shoes that a store lacks, those first that most other stores have."""
    held = StockItem.objects.filter(store=store, shoe=OuterRef("pk"), quantity__gt=0)
    lines = (
        Shoe.objects.published()
        .filter(~Exists(held), is_discontinued=False)
        .annotate(stores=Coalesce("holding__stores", 0))
        .order_by("-stores", "slug")
        .values_list(
            "slug",
            "brand__name",
            "name",
            "version",
            "score_cards__band__order",
            "score_cards__stability",
            "stores",
        )
    )
    return [
        Absent(slug, f"{brand} {name} {version}".rstrip(), band, stability, stores)
        for slug, brand, name, version, band, stability, stores in lines[:limit]
    ]


def print_run_get(store: Store, pk: int) -> PrintRun | None:
    """Return a run of a store, with who printed it, or None."""
    return PrintRun.objects.filter(store=store, pk=pk).select_related("printed_by", "store").first()


@dataclass(frozen=True, slots=True)
class CardOfRun:
    """A card of a run: the shoe with the scores as they were printed, and whether they are still the published ones."""

    shoe: ShoeRow
    is_current: bool


def cards_of_run(run: PrintRun) -> list[CardOfRun]:
    """Return a run's cards in the order of printing: three queries."""
    lines = list(run.cards.order_by("position").values_list("shoe_id", "score_card_id", "score_card__is_current"))
    rows = {row.id: row for row in shoe_rows(ScoreCard.objects.filter(pk__in=[card for _, card, _ in lines]))}
    return [CardOfRun(rows[shoe], is_current) for shoe, _, is_current in lines]
