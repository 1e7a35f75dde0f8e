"""Demand: the targets of the people fitted, by band and size, against what lies in stock."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, Sum

from catalogue.models import StockItem
from catalogue.selectors import BandRow, band_list
from core import row_scope
from core.models import Store
from fittings.models import Fitting


@dataclass(frozen=True, slots=True)
class DemandCell:
    """Targets whose centre lies in a band, for feet of a size, and the pairs in stock there."""

    band: int
    size_eu: Decimal
    targets: int
    pairs: int


def demand_by_band_and_size(store: Store | None, since: dt.date) -> list[DemandCell]:
    """Count targets since a day against pairs in stock now: three queries, bands and sizes in order.

    Parameters
    ----------
    store : of one store; None for all stores added up
    since : the first day of fittings that count

    A target is counted in the band of its centre; a fitting without measured feet has no size and is left out.
    """
    if store is not None:
        return demand_over((store,), since)
    with row_scope.figures():
        return demand_over(None, since)


def demand_over(stores: Sequence[Store] | None, since: dt.date) -> list[DemandCell]:
    """The same over some stores; None for all."""
    bands = band_list()
    targets, pairs = _targets(stores, since, bands), _pairs(stores)
    return [DemandCell(*place, targets.get(place, 0), pairs.get(place, 0)) for place in sorted({*targets, *pairs})]


def _targets(
    stores: Sequence[Store] | None, since: dt.date, bands: Sequence[BandRow]
) -> dict[tuple[int, Decimal], int]:
    fittings = Fitting.objects.kept().filter(at__date__gte=since, size_eu__isnull=False)
    if stores is not None:
        fittings = fittings.filter(store__in=stores)
    found: dict[tuple[int, Decimal], int] = defaultdict(int)
    rows = fittings.order_by().values_list("size_eu", "need_centre").annotate(people=Count("pk"))
    for size_eu, centre, people in rows:
        found[band_of(centre, bands), size_eu] += people
    return found


def band_of(stability: float, bands: Sequence[BandRow]) -> int:
    """The order of the band that a score lies in."""
    return next(band.order for band in bands if band.upper is None or stability < band.upper)


def _pairs(stores: Sequence[Store] | None) -> dict[tuple[int, Decimal], int]:
    stock = StockItem.objects.filter(quantity__gt=0, shoe__score_cards__is_current=True)
    if stores is not None:
        stock = stock.filter(store__in=stores)
    rows = stock.order_by().values_list("shoe__score_cards__band__order", "size_eu").annotate(pairs=Sum("quantity"))
    return {(order, size_eu): pairs for order, size_eu, pairs in rows}
