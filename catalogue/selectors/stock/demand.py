"""What the people who were fitted needed, by band and size. Fittings are an app above, not to be imported from here.

They register how it is read::

    from catalogue.selectors.stock import demand

    demand.register_source(read_demand)
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from core.models import Store


@dataclass(frozen=True, slots=True)
class DemandCell:
    """Fittings whose target lay in a band, by size; None where the size was not known.

    `practice` counts all stores and is None where it is hidden: so few people could be recognised.
    """

    band: int
    size_eu: Decimal | None
    own: int
    practice: int | None


Source = Callable[[Store, dt.date], Sequence[DemandCell]]
_sources: list[Source] = []


def register_source(source: Source) -> None:
    """Add a function that counts the fittings of a store, and of all, in the twelve months up to a day."""
    if source not in _sources:
        _sources.append(source)


ChosenPlace = tuple[int, Decimal]
ChosenSource = Callable[[Store, dt.date], Mapping[tuple[int, Decimal, str], int]]
_chosen: list[ChosenSource] = []


def register_chosen(source: ChosenSource) -> None:
    """Add a function that counts the shoes chosen at a store's fittings since a day, by shoe, size and width."""
    if source not in _chosen:
        _chosen.append(source)


def chosen_at(store: Store, since: dt.date) -> Mapping[ChosenPlace, Counter[str]]:
    """Return how often each size of a shoe was chosen at a store's fittings since a day, by width."""
    counts: dict[ChosenPlace, Counter[str]] = defaultdict(Counter)
    for source in _chosen:
        for (shoe, size, width), pairs in source(store, since).items():
            counts[shoe, size][width] += pairs
    return counts


def of_store(store: Store, until: dt.date) -> list[DemandCell]:
    return [cell for source in _sources for cell in source(store, until)]
