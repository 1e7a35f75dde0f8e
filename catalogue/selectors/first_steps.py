"""The first steps of a new practice that the catalogue can check."""

from __future__ import annotations

from django.db.models import Exists

from catalogue.models import Shoe, StockItem
from core.web.first_steps import Step, register


def shoe_exists() -> Exists:
    return Exists(Shoe.objects.all())


def stock_exists() -> Exists:
    return Exists(StockItem.objects.filter(quantity__gt=0))


register(
    Step(
        30,
        "Shoes",
        "Brands and the shoes that you test and sell.",
        "catalogue:record-new",
        "catalogue.shoe:write",
        shoe_exists,
    ),
    Step(
        80,
        "Stock",
        "What the store has, by shoe and size: counted by hand, from a file, or received by barcode.",
        "catalogue:stock-home",
        "catalogue.stock:write",
        stock_exists,
    ),
)
