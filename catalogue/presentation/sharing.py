"""What pages say of themselves where their address is passed on."""

from __future__ import annotations

from collections.abc import Sequence

from django.urls import reverse
from django.utils.http import urlencode

from catalogue.domain.filters import ShoeFilter
from catalogue.presentation.lists import Names, chips
from catalogue.selectors import ShoeRow
from catalogue.selectors.public.stores import StoreRow
from core.web import display

PARTS_MOST = 4
"""So many filters are named in a title; more would not be read."""


def list_title(wanted: ShoeFilter, names: Names, units: str) -> str:
    """Name the filters of the list: "Shoes: Little hold, running"."""
    labels = [chip.label for chip in chips(wanted, names, units)]
    if not labels:
        return "Shoes on the stability scale"
    more = " and more" if len(labels) > PARTS_MOST else ""
    return f"Shoes: {', '.join(labels[:PARTS_MOST])}{more}"


def list_description(summary: str) -> str:
    return (
        f"{summary}, measured on a bench and placed on one scale: from shoes that let the foot roll to shoes that hold "
        "it. Scores describe shoes, not people."
    )


def compared_title(shoes: Sequence[ShoeRow]) -> str:
    """Name the shoes that are compared."""
    if not shoes:
        return "Compare shoes"
    return f"Compare {display.listed([shoe.title for shoe in shoes])}"


def compared_address(shoes: Sequence[ShoeRow]) -> str:
    """Return the one address of a comparison."""
    query = urlencode([("shoe", shoe.slug) for shoe in shoes])
    return reverse("catalogue:shoe-compare") + (f"?{query}" if query else "")


def store_description(store: StoreRow) -> str:
    place = ", ".join(part for part in (store.street, f"{store.postcode} {store.town}".strip()) if part)
    where = f"{place}. " if place else ""
    return f"{where}{display.count(store.shoes, 'measured shoe')} in stock, by band and size."
