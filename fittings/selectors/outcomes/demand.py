"""Demand: the targets of the people fitted, by band and size, against what lies in stock."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Case, Count, IntegerField, Q, QuerySet, Sum, Value, When

from catalogue.models import StockItem
from catalogue.selectors import BandRow, band_list
from catalogue.selectors.stock import demand as catalogue_demand
from core.gate import row_scope
from core.models import Store
from fittings.domain.disclosure.hiding import SMALL_CELL
from fittings.models import Choice, Fitting
from fittings.selectors.outcomes import noise

Place = tuple[int, Decimal]


@dataclass(frozen=True, slots=True)
class DemandCell:
    """Targets whose centre lies in a band, for feet of a size, and the pairs in stock there."""

    band: int
    size_eu: Decimal
    targets: int
    pairs: int


SIZES_TOGETHER = 2
"""Where stores are added up so many whole sizes are counted together: by half sizes most counts would be small."""


def demand_over(stores: Sequence[Store], since: dt.date) -> list[DemandCell]:
    """Count targets of some stores since a day against their pairs in stock now: three queries, in order of the bands.

    Parameters
    ----------
    since : the first day of fittings that count

    A target is counted in the band of its centre; a fitting without measured feet has no size and is left out.
    """
    wanted = Fitting.objects.without_training().filter(store__in=stores, at__date__gte=since, size_eu__isnull=False)
    targets = {(band, size): people for band, size, people in _targets(wanted, people=Count("pk"))}
    pairs = _pairs(stores)
    return [DemandCell(*place, targets.get(place, 0), pairs.get(place, 0)) for place in sorted({*targets, *pairs})]


def demand_across(stores: Sequence[Store], until: dt.date) -> list[DemandCell]:
    """Count targets of the twelve months before a day over stores, two whole sizes together and with noise.

    Parameters
    ----------
    until : the first day of fittings that no longer count; the first of a month, so that nothing changes by the day
    """
    wanted = Fitting.objects.without_training().filter(
        store__in=stores, at__date__gte=year_before(until), at__date__lt=until, size_eu__isnull=False
    )
    people, keys, pairs = Counter[Place](), Counter[Place](), Counter[Place]()
    for band, size, count, key in _targets(wanted, people=Count("pk"), keys=Sum(noise.record_key("customer"))):
        place = band, size // SIZES_TOGETHER * SIZES_TOGETHER
        people[place] += count
        keys[place] += int(key)
    for (band, size), count in _pairs(stores).items():
        pairs[band, size // SIZES_TOGETHER * SIZES_TOGETHER] += count
    return [
        DemandCell(*place, noise.noisy(people[place], keys[place]), pairs[place]) for place in sorted({*people, *pairs})
    ]


def demand_for_store(store: Store, until: dt.date) -> list[catalogue_demand.DemandCell]:
    """Count kept fittings of the twelve months up to a day, included, for the catalogue's page on gaps: two queries.

    A person who was fitted twice counts twice: each time a shoe was wanted. Of other stores whole months count, with
    noise, so that no day and no other store's page gives away a single person.
    """
    wanted = Fitting.objects.without_training().filter(at__date__gt=year_before(until), at__date__lte=until)
    others = ~Q(store=store) & Q(at__date__lt=until.replace(day=1))
    with row_scope.figures():
        lines = _targets(
            wanted,
            own=Count("pk", filter=Q(store=store)),
            others=Count("pk", filter=others),
            keys=Sum(noise.record_key("customer"), filter=others),
        )
        return [
            catalogue_demand.DemandCell(band, size, own, shown_across_stores(own, own + noise.noisy(elsewhere, keys)))
            for band, size, own, elsewhere, keys in lines
            if own or elsewhere
        ]


def chosen_since(store: Store, since: dt.date) -> dict[tuple[int, Decimal, str], int]:
    """Count the shoes chosen at a store's fittings since a day, by shoe, size and width: one query."""
    chosen = Choice.objects.without_mistakes().filter(fitting__store=store, at__date__gte=since)
    lines = chosen.order_by().values_list("shoe_id", "size_eu", "width").annotate(people=Count("pk"))
    return {(shoe, size, width): people for shoe, size, width, people in lines}


def _targets(fittings: QuerySet[Fitting], **counts: Count | Sum) -> QuerySet[Any, tuple[Any, ...]]:
    """Counts of fittings by the band that the need's centre lies in and by size; one query, and one for the bands."""
    bands = band_list()
    if not bands:
        fittings = fittings.none()
    lines = fittings.annotate(band=_band_of(bands)).order_by("band", "size_eu").values("band", "size_eu")
    return lines.annotate(**counts).values_list("band", "size_eu", *counts)


def _band_of(bands: Sequence[BandRow]) -> Case:
    """Return the band that a need's centre lies in: lower limit included, upper excluded."""
    return Case(
        *(When(need_centre__lt=band.upper, then=Value(band.order)) for band in bands if band.upper is not None),
        default=Value(bands[-1].order if bands else 0),
        output_field=IntegerField(),
    )


def shown_across_stores(own: int, everywhere: int) -> int | None:
    """Hide a count of all stores under five, and one that gives away under five in the others by subtraction."""
    others = everywhere - own
    return None if 0 < everywhere < SMALL_CELL or 0 < others < SMALL_CELL else everywhere


def year_before(day: dt.date) -> dt.date:
    return day.replace(year=day.year - 1, day=min(day.day, 28)) if day.month == 2 else day.replace(year=day.year - 1)


def _pairs(stores: Sequence[Store]) -> dict[tuple[int, Decimal], int]:
    stock = StockItem.objects.filter(quantity__gt=0, shoe__score_cards__is_current=True, store__in=stores)
    rows = stock.order_by().values_list("shoe__score_cards__band__order", "size_eu").annotate(pairs=Sum("quantity"))
    return {(order, size_eu): pairs for order, size_eu, pairs in rows}
