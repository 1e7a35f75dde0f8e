"""A store's stock work in words: sizes as the store writes them, movements, transfers, reservations, orders."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.urls import reverse

from catalogue.domain.sizes import EU, written_size
from catalogue.models import Reservation, StockMovement, StockTransfer
from catalogue.permissions import STOCK_PLACES
from catalogue.selectors.stock.stock_work import OrderLine, full_title
from core.gate.access import allowed
from core.gate.navigation import Link
from core.models import Store
from core.web import display

ORDER_COLUMNS = (
    "shoe",
    "size",
    "width",
    "in stock",
    "reserved",
    "on the way",
    "sold",
    "chosen",
    "to order",
)


@dataclass(frozen=True, slots=True)
class MovementLine:
    """One movement as it is shown."""

    at: dt.datetime
    what: str
    shoe: str
    size: str
    change: str
    after: int
    who: str


@dataclass(frozen=True, slots=True)
class TransferRow:
    """One transfer in the list of a store: `way` is "to" or "from" another store."""

    url: str
    way: str
    other: str
    at: dt.datetime
    pairs: str
    state: str
    kind: str


@dataclass(frozen=True, slots=True)
class ReservationLine:
    """One reservation as it is shown; `is_over` where its last day has passed."""

    pk: int
    shoe: str
    size: str
    pairs: int
    note: str
    until: str
    is_over: bool
    who: str


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One line of the order list, with its size as the store writes it."""

    line: OrderLine
    size: str


def stock_links(user: Any, store: Store, path: str) -> list[Link]:
    """Return the pages of a store's stock that the reader may open."""
    links = []
    for label, name, action in STOCK_PLACES:
        if allowed(user, action, store):
            url = reverse(name, args=[store.slug])
            links.append(Link(label, url, url == path, "page"))
    return links


def own_size_note(store: Store) -> str:
    """Say that converted sizes are approximate, where the store does not write EU sizes."""
    if store.size_system == EU:
        return ""
    system = store.get_size_system_display()
    return f"{system} sizes are converted from EU sizes and approximate: makers differ by up to a size."


def size_headings(sizes: Sequence[Decimal], store: Store) -> list[tuple[str, str]]:
    """Return each EU size with the store's own way of writing it, empty where that is EU."""
    return [(display.bare_size(size), _own_number(size, store.size_system)) for size in sizes]


def _own_number(size: Decimal, system: str) -> str:
    own, _, in_brackets = written_size(size, system).partition(" (")
    return own if in_brackets else ""


def movement_line(row: StockMovement, store: Store) -> MovementLine:
    what = row.get_kind_display()
    if row.transfer is not None:
        other = row.transfer.to_store if row.transfer.from_store_id == store.pk else row.transfer.from_store
        what = f"{what}: {other.name}"
    return MovementLine(
        row.at,
        what,
        full_title(row.shoe),
        size_and_width(row.size_eu, row.width, store),
        display.signed(row.change).removesuffix(".0"),
        row.pairs_after,
        row.by.display_name if row.by else "command line",
    )


def size_and_width(size_eu: Decimal, width: str, store: Store) -> str:
    size = written_size(size_eu, store.size_system)
    return f"{size}, width {width}" if width else size


_TRANSFER_STATES = {"sent": "wait", "received": "good", "called_back": "off"}


def transfer_row(transfer: StockTransfer, store: Store) -> TransferRow:
    is_out = transfer.from_store_id == store.pk
    return TransferRow(
        reverse("catalogue:transfer-detail", args=[store.slug, transfer.pk]),
        "to" if is_out else "from",
        (transfer.to_store if is_out else transfer.from_store).name,
        transfer.sent_at,
        display.count(sum(line.quantity for line in transfer.lines.all()), "pair"),
        transfer.get_state_display(),
        _TRANSFER_STATES[transfer.state],
    )


def transfer_lines(transfer: StockTransfer, store: Store) -> list[tuple[int, str, int, int | None]]:
    """Return each line of a transfer: its key, shoe with size, pairs sent, pairs received."""
    return [
        (
            line.pk,
            f"{full_title(line.shoe)}, {size_and_width(line.size_eu, line.width, store)}",
            line.quantity,
            line.received,
        )
        for line in transfer.lines.all()
    ]


def reservation_line(row: Reservation, store: Store, today: dt.date) -> ReservationLine:
    return ReservationLine(
        row.pk,
        full_title(row.shoe),
        size_and_width(row.size_eu, row.width, store),
        row.quantity,
        row.note,
        display.day(row.until),
        row.until < today,
        row.made_by.display_name if row.made_by else "command line",
    )


def order_rows(lines: Iterable[OrderLine], store: Store) -> list[OrderRow]:
    return [OrderRow(line, written_size(line.size_eu, store.size_system)) for line in lines]


def order_csv(rows: Iterable[OrderRow]) -> list[tuple[object, ...]]:
    return [
        (
            row.line.title,
            row.size,
            row.line.count.width,
            row.line.count.held,
            row.line.count.reserved,
            row.line.count.on_the_way,
            row.line.count.sold,
            row.line.count.chosen,
            row.line.count.to_order,
        )
        for row in rows
    ]
