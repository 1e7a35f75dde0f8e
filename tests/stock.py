"""Stock for a test: one size of a shoe, counted."""

from __future__ import annotations

from decimal import Decimal

from catalogue.models import Shoe, StockItem
from catalogue.services import StockLine, stock_count_record
from core.models import Store, User


def stock_set(*, actor: User | None, store: Store, shoe: Shoe, size_eu: Decimal, quantity: int) -> StockItem:
    (item,) = stock_count_record(actor=actor, store=store, lines=[StockLine(shoe, size_eu, quantity)])
    return item
