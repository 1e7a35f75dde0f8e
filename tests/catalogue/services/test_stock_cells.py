"""Edited cells are saved together, and never over what somebody else wrote meanwhile."""

from __future__ import annotations

from decimal import Decimal

import pytest

from catalogue.models import StockItem
from catalogue.services import StockCell, StockOvertaken, stock_cells_save
from core import audit
from core.domain.errors import DomainError
from tests.shared import shared
from tests.stock import stock_set

SIZE, OTHER = Decimal("42.0"), Decimal("42.5")


@shared
def shoe(make_shoe):
    return make_shoe()


def held(store):
    return dict(StockItem.objects.filter(store=store).values_list("size_eu", "quantity"))


def test_new_and_known_sizes_are_saved_with_their_entries(cast, shoe):
    stock_set(actor=None, store=cast.store_a, shoe=shoe, size_eu=SIZE, quantity=1)
    cells = [StockCell(shoe.pk, SIZE, 1, 4), StockCell(shoe.pk, OTHER, None, 2)]
    saved = stock_cells_save(actor=cast.manager_a, store=cast.store_a, cells=cells)
    assert held(cast.store_a) == {SIZE: 4, OTHER: 2}
    assert len(saved) == 2
    assert audit.entries_of(saved[0]).first().actor == cast.manager_a


@pytest.mark.parametrize(("seen", "now"), [(1, 3), (None, 3), (5, 3)])
def test_cell_changed_meanwhile_stops_all_of_them(cast, shoe, seen, now):
    stock_set(actor=None, store=cast.store_a, shoe=shoe, size_eu=SIZE, quantity=now)
    cells = [StockCell(shoe.pk, SIZE, seen, 9), StockCell(shoe.pk, OTHER, None, 2)]
    with pytest.raises(StockOvertaken) as refused:
        stock_cells_save(actor=cast.manager_a, store=cast.store_a, cells=cells)
    (cell,) = refused.value.cells
    assert (cell.seen, cell.now, cell.wanted) == (seen, now, 9)
    assert held(cast.store_a) == {SIZE: now}


def test_cell_that_vanished_meanwhile_is_reported(cast, shoe):
    with pytest.raises(StockOvertaken) as refused:
        stock_cells_save(actor=None, store=cast.store_a, cells=[StockCell(shoe.pk, SIZE, 3, 4)])
    assert refused.value.cells[0].now is None


def test_two_who_wish_the_same_do_not_stand_in_each_others_way(cast, shoe):
    stock_set(actor=None, store=cast.store_a, shoe=shoe, size_eu=SIZE, quantity=4)
    assert stock_cells_save(actor=None, store=cast.store_a, cells=[StockCell(shoe.pk, SIZE, 1, 4)]) == []


def test_shoe_that_is_not_there_is_refused(cast):
    with pytest.raises(DomainError, match="no shoe of number"):
        stock_cells_save(actor=None, store=cast.store_a, cells=[StockCell(999_999, SIZE, None, 4)])


def test_other_stores_are_left_alone(cast, shoe):
    stock_set(actor=None, store=cast.store_b, shoe=shoe, size_eu=SIZE, quantity=7)
    stock_cells_save(actor=None, store=cast.store_a, cells=[StockCell(shoe.pk, SIZE, None, 1)])
    assert held(cast.store_b) == {SIZE: 7}
