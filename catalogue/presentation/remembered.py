"""Shoes that a visitor remembers, by the address that names them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.http import urlencode

from catalogue.presentation.shoes import ShoeText, shoe_text
from catalogue.selectors import ShoeRow


@dataclass(frozen=True, slots=True)
class RememberedShoe:
    """A shoe of the list, and the address of the list without it."""

    text: ShoeText
    without_url: str


def remembered_shoes(shoes: Sequence[ShoeRow], units: str) -> list[RememberedShoe]:
    page = reverse("catalogue:remembered")
    slugs = [shoe.slug for shoe in shoes]
    return [RememberedShoe(shoe_text(shoe, units), _named(page, slugs, without=shoe.slug)) for shoe in shoes]


def _named(page: str, slugs: Sequence[str], *, without: str = "") -> str:
    query = urlencode([("shoe", slug) for slug in slugs if slug != without])
    return f"{page}?{query}" if query else page


def side_by_side_url(slugs: Sequence[str], *, most: int) -> str:
    """Return the address that compares the shoes; "" where there are too many or too few."""
    return _named(reverse("catalogue:shoe-compare"), slugs) if 2 <= len(slugs) <= most else ""
