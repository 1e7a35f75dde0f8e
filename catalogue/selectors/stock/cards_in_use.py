"""How far score cards have reached: onto walls, into stores, into fittings.

Fittings are an app above, not to be imported from here. They register how they are counted::

    from catalogue.selectors import reach

    reach.register_fittings(count_fittings)
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, QuerySet

from catalogue.models import PrintedCard, StockItem
from core.models import Store


@dataclass(frozen=True, slots=True)
class HangingCard:
    """A wall card on a store's wall: the last one printed of its shoe there."""

    store: str
    shoe: str
    run: int
    printed_at: dt.datetime


@dataclass(frozen=True, slots=True)
class FittingCount:
    """How many fittings ended in shoes with some cards, of how many customers, in which stores.

    Only people who agreed to be recorded are in it, and as counts: names are for the staff of each store.
    """

    fittings: int
    customers: int
    stores: frozenset[int]


NO_FITTINGS = FittingCount(0, 0, frozenset())
Counter = Callable[[Collection[int]], FittingCount]
_counters: list[Counter] = []


def register_fittings(counter: Counter) -> None:
    """Set the function that counts the fittings whose chosen shoe was published by one of some cards."""
    _counters[:] = [counter]


def fittings_with(score_cards: Collection[int]) -> FittingCount:
    return _counters[0](score_cards) if _counters and score_cards else NO_FITTINGS


def hanging() -> QuerySet[PrintedCard]:
    """Return the wall cards that hang: of each shoe in each store the last one printed."""
    later = PrintedCard.objects.filter(
        run__store=OuterRef("run__store"),
        shoe=OuterRef("shoe"),
        run__is_withdrawn=False,
        run__printed_at__gt=OuterRef("run__printed_at"),
    )
    return PrintedCard.objects.filter(run__is_withdrawn=False).exclude(Exists(later))


def hanging_cards(score_cards: Collection[int]) -> list[HangingCard]:
    """Return the wall cards that show one of some score cards, by store and shoe: one query."""
    lines = hanging().filter(score_card__in=score_cards).order_by("run__store__slug", "shoe__slug", "pk")
    return [
        HangingCard(*line) for line in lines.values_list("run__store__slug", "shoe__slug", "run_id", "run__printed_at")
    ]


def stores_with(*, shoes: Collection[int], cards: Collection[HangingCard], fittings: FittingCount) -> list[Store]:
    """Return the stores that have some shoes in stock, their cards on the wall, or fittings with them: one query."""
    in_stock = StockItem.objects.filter(store=OuterRef("pk"), shoe__in=shoes, quantity__gt=0)
    with_stock = Store.objects.filter(Exists(in_stock))
    with_cards = Store.objects.filter(slug__in={card.store for card in cards})
    return list((with_stock | with_cards | Store.objects.filter(pk__in=fittings.stores)).order_by("name", "slug"))
