"""What wear did to published shoes: the approved tests of specimens tested new and after distances, for the public."""

from __future__ import annotations

from collections import defaultdict

from django.db.models import Count, Max, QuerySet

from catalogue.selectors.public.method import WearSeries
from labtests.forms.quantities import STABILITY
from labtests.models import Result, State
from labtests.presentation.studies.wear import wear_sheet
from labtests.selectors.studies.wear import WearPoint, column, point_of

SERIES_MOST = 6
"""More lines than this cannot be distinguished; those worn farthest are shown."""


def _approved() -> QuerySet[Result]:
    """Approved results of the current model, of published shoes, that are within the protocol."""
    return Result.objects.filter(
        scoring_model__is_current=True,
        test__state=State.APPROVED,
        test__is_released=False,
        test__specimen__shoe__score_cards__is_current=True,
    )


def wear_mark() -> str:
    """Return a text that differs once another test of a worn specimen was approved, or one was taken back."""
    worn = _approved().filter(test__worn_km__gt=0).aggregate(count=Count("pk"), newest=Max("pk"))
    return f"{worn['count']}-{worn['newest']}"


def public_wear(units: str) -> list[WearSeries]:
    """Return a series for each specimen with enough tests for a trend, those worn farthest first: one query."""
    worn = _approved().filter(test__worn_km__gt=0).values("test__specimen")
    results = (
        _approved()
        .filter(test__specimen__in=worn)
        .select_related("test__rig", "test__protocol", "test__specimen__shoe__brand")
        .order_by("test__specimen", "test__worn_km", "test__performed_at", "test_id")
    )
    by_specimen: dict[int, list[Result]] = defaultdict(list)
    for result in results:
        by_specimen[result.test.specimen_id].append(result)
    found = [series for tests in by_specimen.values() if (series := _series(tests, units)) is not None]
    return sorted(found, key=lambda series: -series.points[-1][0])[:SERIES_MOST]


def _series(results: list[Result], units: str) -> WearSeries | None:
    points = sorted(map(point_of, results), key=lambda point: point.worn_km)
    sheet = wear_sheet(points, STABILITY, (), units)
    if not sheet.is_enough:
        return None
    shoe = results[0].test.specimen.shoe
    title = f"{shoe.brand.name} {shoe.title}"
    return WearSeries(title=title, slug=shoe.slug, points=_places(points), sentences=sheet.words)


def _places(points: list[WearPoint]) -> tuple[tuple[float, float], ...]:
    counted, values = column(points, STABILITY.key)
    return tuple((point.worn_km, value) for point, value in zip(counted, values, strict=True))
