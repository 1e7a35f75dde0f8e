"""What people needed in the last twelve months, by band and size, for the catalogue's page on gaps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db.models import Case, Count, F, IntegerField, Q, Value, When

from catalogue.demand import DemandCell
from catalogue.selectors import BandRow, band_list
from core import row_scope
from core.models import Store
from fittings.domain.outcomes import SMALL_CELL
from fittings.models import Fitting


def _band_of(bands: Sequence[BandRow]) -> Case:
    """Return the band that a need's centre lies in: lower limit included, upper excluded."""
    return Case(
        *(When(need_centre__lt=band.upper, then=Value(band.order)) for band in bands if band.upper is not None),
        default=Value(bands[-1].order),
        output_field=IntegerField(),
    )


def shown_across_stores(own: int, everywhere: int) -> int | None:
    """Hide a count of all stores under five, and one that gives away under five in the others by subtraction."""
    others = everywhere - own
    return None if 0 < everywhere < SMALL_CELL or 0 < others < SMALL_CELL else everywhere


def _year_before(day: dt.date) -> dt.date:
    return day.replace(year=day.year - 1, day=min(day.day, 28)) if day.month == 2 else day.replace(year=day.year - 1)


def demand_for_store(store: Store, until: dt.date) -> list[DemandCell]:
    """Count the kept fittings of the twelve months up to a day, included, by the band of the target's centre and size.

    A person who was fitted twice counts twice: each time a shoe was wanted.
    """
    bands = band_list()
    if not bands:
        return []
    lines = (
        Fitting.objects.kept()
        .filter(at__date__gt=_year_before(until), at__date__lte=until)
        .annotate(band=_band_of(bands), size=F("size_eu"))
        .order_by("band", "size")
        .values_list("band", "size")
        .annotate(own=Count("pk", filter=Q(store=store)), everywhere=Count("pk"))
    )
    with row_scope.figures():
        return [
            DemandCell(band, size, own, shown_across_stores(own, everywhere)) for band, size, own, everywhere in lines
        ]
