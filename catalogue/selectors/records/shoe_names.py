"""Shoes by the names that people write."""

from __future__ import annotations

import re

from catalogue.models import Shoe
from catalogue.selectors.stock.stock_work import SUGGESTED_MOST, full_title, shoes_named

MATCHES_SHOWN = 5
ADDRESS = re.compile(r"[a-z0-9-]+")


def address_of(text: str) -> str:
    """Return the address of the shoe that a text names; a text that may be an address itself is returned as it is.

    Raises
    ------
    ValueError
        With a sentence for people, where no shoe or several have the words in their names.
    """
    if Shoe.objects.filter(slug=text).exists():
        return text
    matches = shoes_named(text, limit=MATCHES_SHOWN + 1)
    if len(matches) == 1:
        return matches[0].slug
    if matches:
        names = ", ".join(full_title(shoe) for shoe in matches[:MATCHES_SHOWN])
        more = " and others" if len(matches) > MATCHES_SHOWN else ""
        raise ValueError(f"Several shoes match: {names}{more}. Write the whole name.")
    if not ADDRESS.fullmatch(text):
        raise ValueError("No shoe has all of these words in its name. Check the name, or add the shoe first.")
    return text


def name_at(address: str) -> str:
    """Return brand, name and version of the shoe at an address, "" where there is none."""
    shoe = Shoe.objects.filter(slug=address).select_related("brand").first()
    return "" if shoe is None else full_title(shoe)


def names_of_shoes() -> list[str]:
    """Return names of shoes to offer while one is typed: one query."""
    shoes = (
        Shoe.objects.select_related("brand")
        .filter(merged_into__isnull=True)
        .order_by("brand__name", "name", "version", "pk")
    )
    return [full_title(shoe) for shoe in shoes[:SUGGESTED_MOST]]
