"""A stock count sets many sizes at once, all of them or none, each with its audit entry."""

from __future__ import annotations

from decimal import Decimal

import pytest

from catalogue.models import StockItem
from catalogue.services import StockLine, brand_create, shoe_create, stock_count_record
from core import audit
from core.domain.errors import DomainError
from tests.shared import shared
from tests.stock import stock_set


@shared
def shoe(db):
    brand = brand_create(actor=None, slug="plovisk", name="Plovisk")
    return shoe_create(actor=None, slug="plovisk-obbleck-1", brand=brand, name="Obbleck", version="1")


def test_new_and_known_sizes_are_set(cast, shoe):
    known = stock_set(actor=cast.manager_a, store=cast.store_a, shoe=shoe, size_eu=Decimal("42.0"), quantity=1)
    lines = [StockLine(shoe, Decimal("42.0"), 4), StockLine(shoe, Decimal("42.5"), 2)]
    stock_count_record(actor=cast.manager_a, store=cast.store_a, lines=lines)
    held = dict(StockItem.objects.filter(store=cast.store_a).values_list("size_eu", "quantity"))
    assert held == {Decimal("42.0"): 4, Decimal("42.5"): 2}
    entry = audit.entries_of(known).first()
    assert entry is not None
    assert (entry.content["before"]["quantity"], entry.content["after"]["quantity"]) == (1, 4)
    assert entry.actor == cast.manager_a


def test_other_sizes_and_other_stores_are_left_alone(cast, shoe):
    for store, size in ((cast.store_a, "40.0"), (cast.store_b, "42.0")):
        stock_set(actor=None, store=store, shoe=shoe, size_eu=Decimal(size), quantity=7)
    stock_count_record(actor=None, store=cast.store_a, lines=[StockLine(shoe, Decimal("42.0"), 1)])
    assert StockItem.objects.filter(quantity=7).count() == 2


@pytest.mark.parametrize(("size", "quantity"), [("12.0", 1), ("42.0", -1)])
def test_one_bad_line_refuses_the_whole_count(cast, shoe, size, quantity):
    lines = [StockLine(shoe, Decimal("41.0"), 1), StockLine(shoe, Decimal(size), quantity)]
    with pytest.raises(DomainError) as refused:
        stock_count_record(actor=None, store=cast.store_a, lines=lines)
    assert refused.value.status == 400
    assert not StockItem.objects.exists()


def test_size_counted_twice_is_refused(cast, shoe):
    line = StockLine(shoe, Decimal("41.0"), 1)
    with pytest.raises(DomainError, match="counted twice"):
        stock_count_record(actor=None, store=cast.store_a, lines=[line, line])
    assert not StockItem.objects.exists()


def test_empty_count_changes_nothing(cast):
    assert stock_count_record(actor=None, store=cast.store_a, lines=[]) == []
