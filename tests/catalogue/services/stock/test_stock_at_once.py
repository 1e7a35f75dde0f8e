"""Two people sell the last pair at the same moment: one of them does."""

from __future__ import annotations

from decimal import Decimal

import pytest

from catalogue.models import MovementKind, StockItem
from catalogue.services import Pairs, stock_move
from tests.databases import at_once, committed_database

db = pytest.fixture(committed_database)


def test_one_of_two_sells_the_last_pair(cast, make_shoe):
    pairs = [Pairs(make_shoe(published=False), Decimal("42.0"), 1)]
    stock_move(actor=None, store=cast.store_a, kind=MovementKind.RECEIVED, pairs=pairs)

    def sell(_):
        stock_move(actor=None, store=cast.store_a, kind=MovementKind.SOLD, pairs=pairs)
        return "sold"

    assert at_once(sell, 1, 2) == ["sold", "too_few"]
    assert StockItem.objects.get().quantity == 0
