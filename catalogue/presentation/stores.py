"""A store's wall, band by band."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from catalogue.presentation.shoes import ShoeText
from catalogue.selectors import BandRow
from core.web import display


@dataclass(frozen=True, slots=True)
class WallBand:
    """How many measured shoes of a band a store has; `url` lists them, "" where there are none."""

    order: int
    name: str
    shoes: str
    url: str


@dataclass(frozen=True, slots=True)
class BandGroup:
    """The shoes of a band that a list shows together."""

    order: int
    name: str
    shoes: tuple[ShoeText, ...]


def wall_by_band(store: str, bands: Sequence[BandRow], counts: Mapping[int, int]) -> list[WallBand]:
    """Say of every band how many shoes of it are on the wall, also of those with none."""
    base = reverse("catalogue:shoe-list")
    return [
        WallBand(
            order=band.order,
            name=band.name,
            shoes=display.count(counts.get(band.order, 0), "shoe") if counts.get(band.order) else "none here",
            url=f"{base}?{urlencode({'band': band.order, 'store': store})}" if counts.get(band.order) else "",
        )
        for band in bands
    ]


def by_band(shoes: Sequence[ShoeText]) -> list[BandGroup]:
    """Group shoes that are sorted by stability under their bands."""
    grouped = itertools.groupby(shoes, key=lambda shoe: (shoe.band.order, shoe.band.name))
    return [BandGroup(order, name, tuple(found)) for (order, name), found in grouped]
