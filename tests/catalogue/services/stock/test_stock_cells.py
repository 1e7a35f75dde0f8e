"""Edited cells are saved together, and never over what somebody else wrote meanwhile."""

from __future__ import annotations

from decimal import Decimal

import pytest

from catalogue.models import MovementKind, StockItem, StockMovement
from catalogue.selectors.stock.stock_work import count_lines
from catalogue.services import Pairs, StockCell, StockOvertaken, stock_cells_save, stock_move
from core import audit
from core.domain.errors import DomainError
from tests.shared import shared
from tests.stock import stock_set

SIZE, OTHER = Decimal("42.0"), Decimal("42.5")


@shared
def shoe(make_shoe):
    made = make_shoe()
    made.widths = ["D", "2E"]
    made.save()
    return made


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


def by_width(store):
    return {width: pairs for (_, _, width), pairs in count_lines(store).items()}


def test_widths_are_counted_one_by_one_and_the_size_is_their_sum(cast, shoe):
    stock_set(actor=None, store=cast.store_a, shoe=shoe, size_eu=SIZE, quantity=3)
    cells = [
        StockCell(shoe.pk, SIZE, 3, 1, ""),
        StockCell(shoe.pk, SIZE, None, 2, "D"),
        StockCell(shoe.pk, SIZE, None, 4, "2E"),
    ]
    stock_cells_save(actor=cast.manager_a, store=cast.store_a, cells=cells)
    assert held(cast.store_a) == {SIZE: 7}
    assert by_width(cast.store_a) == {"": 1, "D": 2, "2E": 4}
    stock_cells_save(actor=None, store=cast.store_a, cells=[StockCell(shoe.pk, SIZE, 4, 0, "2E")])
    assert by_width(cast.store_a) == {"": 1, "D": 2, "2E": 0}
    assert sum(StockMovement.objects.values_list("change", flat=True)) == 3


def test_width_changed_meanwhile_stops_the_count(cast, shoe):
    pairs = [Pairs(shoe, SIZE, 2, "D")]
    stock_move(actor=None, store=cast.store_a, kind=MovementKind.RECEIVED, pairs=pairs)
    with pytest.raises(StockOvertaken) as refused:
        stock_cells_save(actor=None, store=cast.store_a, cells=[StockCell(shoe.pk, SIZE, 1, 4, "D")])
    (cell,) = refused.value.cells
    assert (cell.width, cell.seen, cell.now, cell.wanted) == ("D", 1, 2, 4)


def test_count_by_width_corrects_what_a_count_of_the_size_has_overtaken(cast, shoe):
    """Five of D were received, then one pair counted: which width it has is not known until it is counted by width."""
    pairs = [Pairs(shoe, SIZE, 5, "D")]
    stock_move(actor=None, store=cast.store_a, kind=MovementKind.RECEIVED, pairs=pairs)
    stock_set(actor=None, store=cast.store_a, shoe=shoe, size_eu=SIZE, quantity=1)
    assert by_width(cast.store_a) == {"": 1, "D": 0}
    cells = [StockCell(shoe.pk, SIZE, 1, 0, ""), StockCell(shoe.pk, SIZE, None, 1, "2E")]
    stock_cells_save(actor=None, store=cast.store_a, cells=cells)
    assert by_width(cast.store_a) == {"D": 0, "2E": 1}
    assert min(StockMovement.objects.values_list("pairs_after", flat=True)) >= 0


def test_width_that_the_shoe_does_not_come_in_is_refused(cast, shoe):
    with pytest.raises(DomainError, match="does not come in one of these widths"):
        stock_cells_save(actor=None, store=cast.store_a, cells=[StockCell(shoe.pk, SIZE, None, 4, "\x00")])
    assert held(cast.store_a) == {}
