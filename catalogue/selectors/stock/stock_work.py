"""Reads for a store's stock work: shoes by name, movements, transfers, reservations, what to order."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Q, QuerySet, Sum
from django.http import Http404
from django.shortcuts import get_object_or_404
from django.utils import timezone

from catalogue.domain.gtin import full_gtin
from catalogue.domain.ordering import UNKNOWN_WIDTH, WidthCount, known_stock, lines_by_width, with_orders
from catalogue.models import (
    MovementKind,
    Reservation,
    Shoe,
    ShoeBarcode,
    StockItem,
    StockMovement,
    StockTransfer,
    TransferLine,
)
from catalogue.selectors.records.shoe_records import RecordFilter, record_list
from catalogue.selectors.stock import demand
from core.models import Store

Place = tuple[int, Decimal]
Unit = tuple[int, Decimal, str]
ORDER_DAYS = 90
SUGGESTED_MOST = 300


def full_title(shoe: Shoe) -> str:
    """Return a shoe's brand, name and version; the brand must have been read with it."""
    return f"{shoe.brand.name} {shoe.title}"


def _named(text: str) -> QuerySet[Any]:
    """Return the shoes that a text names, also by an alternative name; a merged duplicate is not offered."""
    return record_list(RecordFilter(words=text)).filter(merged_into__isnull=True)


def barcode_find(text: str) -> ShoeBarcode | None:
    """Return the size and shoe of a barcode, None where no shoe has it.

    Raises
    ------
    ValueError
        With a sentence for people, where the text is not a GTIN.
    """
    return ShoeBarcode.objects.select_related("shoe__brand").filter(gtin=full_gtin(text)).first()


def widths_of(shoe: Shoe) -> list[str]:
    """Return the width fittings of a shoe: the ones stated, then those that only its barcodes name."""
    coded = ShoeBarcode.objects.filter(shoe=shoe).exclude(width="").order_by("width").values_list("width", flat=True)
    return list(dict.fromkeys([*shoe.widths, *coded]))


def shoes_named(text: str, *, limit: int) -> list[Shoe]:
    """Return the shoes that have every word of a text in their names; one whose whole name it is, alone."""
    shoes = list(_named(text)[: limit * 5])
    exact = [shoe for shoe in shoes if full_title(shoe).casefold() == " ".join(text.split()).casefold()]
    return exact if len(exact) == 1 else shoes[:limit]


def names_to_suggest(store: Store) -> list[str]:
    """Return names of shoes to offer while typing, those that the store has first: two queries at most."""
    held = StockItem.objects.filter(store=store).values("shoe")
    offered = Shoe.objects.select_related("brand").filter(merged_into__isnull=True)
    shoes = list(offered.filter(pk__in=held)[:SUGGESTED_MOST])
    if len(shoes) < SUGGESTED_MOST:
        shoes += offered.exclude(pk__in=held)[: SUGGESTED_MOST - len(shoes)]
    return [full_title(shoe) for shoe in shoes]


def movements_of(store: Store, *, words: str = "", kind: str = "") -> QuerySet[StockMovement]:
    """Return the movements of a store's stock, newest first."""
    rows = StockMovement.objects.filter(store=store).select_related("shoe__brand", "by")
    rows = rows.select_related("transfer__from_store", "transfer__to_store")
    if words:
        rows = rows.filter(shoe__in=_named(words).order_by().values("pk"))
    return rows.filter(kind=kind) if kind else rows


def transfers_of(store: Store) -> QuerySet[StockTransfer]:
    """Return the transfers from and to a store, newest first, with their lines."""
    rows = StockTransfer.objects.filter(Q(from_store=store) | Q(to_store=store))
    return rows.select_related("from_store", "to_store").prefetch_related("lines")


def transfer_of(store: Store, pk: int) -> StockTransfer:
    """Return a transfer from or to a store; any other is a 404."""
    rows = transfers_of(store).select_related("sent_by", "closed_by").prefetch_related("lines__shoe__brand")
    return get_object_or_404(rows, pk=pk)


def reservations_of(store: Store) -> QuerySet[Reservation]:
    """Return the reservations of a store that nobody has ended, the first to run out first."""
    rows = Reservation.objects.filter(store=store, closed_at__isnull=True)
    return rows.select_related("shoe__brand", "made_by")


def reservation_of(store: Store, pk: int) -> Reservation:
    found = Reservation.objects.filter(store=store, pk=pk).select_related("shoe__brand").first()
    if found is None:
        raise Http404
    return found


@dataclass(frozen=True, slots=True)
class OrderLine:
    """One size of a shoe in one width: what the store has, what left it, what was wanted and what to order."""

    slug: str
    title: str
    size_eu: Decimal
    count: WidthCount


Widths = Mapping[Place, Mapping[str, int]]


def _by_width(rows: QuerySet[Any], pairs: str) -> dict[Place, Counter[str]]:
    """Return the sums of a column by shoe and size, and in each by width."""
    counts: dict[Place, Counter[str]] = defaultdict(Counter)
    for shoe, size, width, total in rows.order_by().values_list("shoe_id", "size_eu", "width").annotate(sum=Sum(pairs)):
        counts[shoe, size][width] += total
    return counts


def _sold(store: Store, since: dt.date) -> dict[Place, Counter[str]]:
    """Return the pairs sold since a day less those that came back, by size and width."""
    kinds = [MovementKind.SOLD, MovementKind.RETURNED]
    moved = _by_width(StockMovement.objects.filter(store=store, kind__in=kinds, at__date__gte=since), "change")
    return {place: Counter({width: -change for width, change in widths.items()}) for place, widths in moved.items()}


def recorded_widths(store: Store, shoes: Iterable[int] | None = None) -> dict[Place, Counter[str]]:
    """Return what the movements of a store say of its pairs by size and width; of all its shoes without `shoes`."""
    rows = StockMovement.objects.filter(store=store).exclude(width="")
    return _by_width(rows if shoes is None else rows.filter(shoe__in=shoes), "change")


def stock_by_width(store: Store, shoes: Iterable[int]) -> Widths:
    """Return the pairs in stock by size, split by the widths that were recorded as pairs came and went."""
    lines = StockItem.objects.filter(store=store, shoe__in=shoes).values_list("shoe_id", "size_eu", "quantity")
    recorded = recorded_widths(store, shoes)
    return {(shoe, size): known_stock(pairs, recorded.get((shoe, size), {})) for shoe, size, pairs in lines}


def count_lines(store: Store, shoes: Iterable[int] | None = None) -> dict[Unit, int]:
    """Return the lines of a count by width, as `lines_by_width` has them, by shoe and size: two queries."""
    rows = StockItem.objects.filter(store=store).order_by("shoe__slug", "size_eu")
    lines = rows if shoes is None else rows.filter(shoe__in=shoes)
    recorded = recorded_widths(store, shoes)
    return {
        (shoe, size, width): pairs
        for shoe, size, quantity in lines.values_list("shoe_id", "size_eu", "quantity")
        for width, pairs in sorted(lines_by_width(quantity, recorded.get((shoe, size), {})).items())
    }


def widths_of_shoes(shoes: Iterable[int] | None = None) -> dict[int, list[str]]:
    """Return the width fittings of the shoes that have any, as `widths_of` does for one: two queries."""
    stated, coded = Shoe.objects.exclude(widths=[]), ShoeBarcode.objects.exclude(width="").order_by("width")
    if shoes is not None:
        stated, coded = stated.filter(pk__in=shoes), coded.filter(shoe__in=shoes)
    found: dict[int, list[str]] = {pk: list(widths) for pk, widths in stated.values_list("pk", "widths")}
    for shoe, width in coded.values_list("shoe_id", "width"):
        if width not in found.setdefault(shoe, []):
            found[shoe].append(width)
    return found


def reserved_by_width(store: Store, shoes: Iterable[int]) -> dict[Place, Counter[str]]:
    """Return the pairs of these shoes that are reserved today, by size and width."""
    return _by_width(Reservation.objects.open(timezone.localdate()).filter(store=store, shoe__in=shoes), "quantity")


def order_lines(store: Store, today: dt.date) -> list[OrderLine]:
    """Return every size and width that was sold, chosen or reserved, most to order first: seven queries."""
    since = today - dt.timedelta(days=ORDER_DAYS)
    sold, chosen = _sold(store, since), demand.chosen_at(store, since)
    reserved = _by_width(Reservation.objects.open(today).filter(store=store), "quantity")
    coming = TransferLine.objects.filter(transfer__to_store=store, transfer__state=StockTransfer.State.SENT)
    on_the_way = _by_width(coming, "quantity")
    shoes = {shoe for shoe, _ in {*sold, *chosen, *reserved}}
    held, named = stock_by_width(store, shoes), _named_by_key(shoes)
    lines = [
        OrderLine(named[place[0]].slug, full_title(named[place[0]]), place[1], count)
        for place in {*sold, *chosen, *reserved}
        for count in with_orders(_counts(place, held, reserved, on_the_way, sold, chosen=chosen[place]))
        if count.width or _says_something(count)
    ]
    return sorted(lines, key=lambda line: (-line.count.to_order, line.title, line.size_eu, line.count.width))


def _counts(
    place: Place, held: Widths, reserved: Widths, on_the_way: Widths, sold: Widths, *, chosen: Mapping[str, int]
) -> list[WidthCount]:
    """Return the counts of each width of one size."""
    columns = [*(widths.get(place, {}) for widths in (held, reserved, on_the_way, sold)), chosen]
    widths = {UNKNOWN_WIDTH, *(width for column in columns for width, pairs in column.items() if pairs)}
    counts = []
    for width in widths:
        here, set_aside, coming, gone, wanted = (max(0, column.get(width, 0)) for column in columns)
        counts.append(WidthCount(width, here, set_aside, coming, gone, wanted))
    return counts


def _says_something(count: WidthCount) -> bool:
    return any((count.held, count.reserved, count.on_the_way, count.sold, count.chosen))


def _named_by_key(shoes: Iterable[int]) -> dict[int, Shoe]:
    return {shoe.pk: shoe for shoe in Shoe.objects.filter(pk__in=shoes).select_related("brand")}
