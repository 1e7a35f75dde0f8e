"""What can be done where no recommended shoe is in the store in the size."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from core.models import Store
from core.web.display import size
from fittings.selectors.fitting.recommendations import Recommendations, Recommended

SHOWN = 3


@dataclass(frozen=True, slots=True)
class SizeGap:
    """The headline, and the ways out of it; `ask_slug` names the best match, which can be asked for in the size."""

    headline: str
    transfers: tuple[str, ...]
    near: tuple[str, ...]
    ask_slug: str
    ask_title: str
    size_eu: Decimal


def size_gap(found: Recommendations, store: Store) -> SizeGap | None:
    """Say what can be done, None where the store has a recommended shoe in the size or the size is not known."""
    wanted = found.size_eu
    if wanted is None or not found.results or any(_sizes(item, store.slug) & {wanted} for item in found.results):
        return None
    best = found.results[0].shoe
    return SizeGap(
        f"No recommended shoe is here in {size(wanted)}",
        tuple(_transfers(found, store, wanted))[:SHOWN],
        tuple(_near(found, store))[:SHOWN],
        best.slug,
        best.title,
        wanted,
    )


def _sizes(item: Recommended, slug: str) -> set[Decimal]:
    return {each for held in item.in_stock if held.slug == slug for each in held.sizes}


def _transfers(found: Recommendations, store: Store, wanted: Decimal) -> Iterator[str]:
    for item in found.results:
        for held in item.in_stock:
            if held.slug != store.slug and wanted in held.sizes:
                yield f"{item.shoe.title} is at {held.name} in {size(wanted)}"


def _near(found: Recommendations, store: Store) -> Iterator[str]:
    for item in found.results:
        for near in sorted(_sizes(item, store.slug)):
            yield f"{item.shoe.title} is here in {size(near)}"
