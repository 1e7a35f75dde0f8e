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

from catalogue.domain.gtin import full_gtin
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
from catalogue.selectors import demand
from catalogue.selectors.shoe_records import RecordFilter, record_list
from core.models import Store

Place = tuple[int, Decimal]
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
    """One size of a shoe: what the store has, what left it and what was wanted. Counts are pairs.

    `sold` and `chosen` count the days of the order list; `widths` splits `sold` where the width was known.
    """

    title: str
    size_eu: Decimal
    held: int
    reserved: int
    on_the_way: int
    sold: int
    chosen: int
    widths: tuple[tuple[str, int], ...]

    @property
    def to_order(self) -> int:
        """Pairs that would cover as many days again: a pair chosen and then sold counts once."""
        return max(0, max(self.sold, self.chosen) + self.reserved - self.held - self.on_the_way)


def _sold(store: Store, since: dt.date) -> Mapping[Place, Counter[str]]:
    """Return the pairs sold since a day less those that came back, by size and width."""
    kinds = [MovementKind.SOLD, MovementKind.RETURNED]
    rows = StockMovement.objects.filter(store=store, kind__in=kinds, at__date__gte=since).order_by()
    counts: dict[Place, Counter[str]] = defaultdict(Counter)
    for shoe, size, width, change in rows.values_list("shoe_id", "size_eu", "width").annotate(sum=Sum("change")):
        counts[shoe, size][width] -= change
    return counts


def _summed(rows: QuerySet[StockItem] | QuerySet[TransferLine] | QuerySet[Reservation]) -> dict[Place, int]:
    lines = rows.order_by().values_list("shoe_id", "size_eu").annotate(pairs=Sum("quantity"))
    return {(shoe, size): pairs for shoe, size, pairs in lines}


def order_lines(store: Store, today: dt.date) -> list[OrderLine]:
    """Return every size that was sold, chosen at a fitting or reserved, most to order first: six queries."""
    since = today - dt.timedelta(days=ORDER_DAYS)
    sold, chosen = _sold(store, since), demand.chosen_at(store, since)
    reserved = _summed(Reservation.objects.open(today).filter(store=store))
    coming = TransferLine.objects.filter(transfer__to_store=store, transfer__state=StockTransfer.State.SENT)
    places = {*sold, *chosen, *reserved}
    shoes = {shoe for shoe, _ in places}
    held, on_the_way = _summed(StockItem.objects.filter(store=store, shoe__in=shoes)), _summed(coming)
    titles = _titles(shoes)
    lines = [
        OrderLine(
            titles[place[0]],
            place[1],
            held.get(place, 0),
            reserved.get(place, 0),
            on_the_way.get(place, 0),
            max(0, sum(sold[place].values())) if place in sold else 0,
            chosen[place],
            tuple(sorted((width, pairs) for width, pairs in sold.get(place, {}).items() if width and pairs > 0)),
        )
        for place in places
    ]
    return sorted(lines, key=lambda line: (-line.to_order, line.title, line.size_eu))


def _titles(shoes: Iterable[int]) -> dict[int, str]:
    return {shoe.pk: full_title(shoe) for shoe in Shoe.objects.filter(pk__in=shoes).select_related("brand")}
