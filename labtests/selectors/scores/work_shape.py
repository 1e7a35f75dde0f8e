"""The shape of heel curves in the practice's own tests."""

from __future__ import annotations

from django.db.models import Avg, F

from labtests.domain.curves.curves import MJ_PER_J, TARGET_FORCE_N
from labtests.domain.curves.work_shape import WorkShape, fit_shape
from labtests.models import BenchTest, Protocol, Source, State

# Newest tests that the shape is fitted on: enough for a steady figure, quick to read.
NEWEST = 3000


def work_shape_current() -> WorkShape:
    """Fit the shape on the newest approved tests with curves, one figure a shoe."""
    force = Protocol.objects.filter(compression_n=TARGET_FORCE_N).values("pk")
    newest = (
        BenchTest.objects.of_unworn_shoes()
        .filter(source=Source.CURVES, state=State.APPROVED, is_released=False, protocol__in=force)
        .filter(work_j__gt=0, deflection_mm__gt=0)
        .order_by("-pk")[:NEWEST]
    )
    by_shoe = (
        BenchTest.objects.filter(pk__in=newest.values("pk"))
        .order_by()
        .values("specimen__shoe")
        .annotate(ratio=Avg(F("work_j") / F("deflection_mm")))
    )
    return fit_shape([row["ratio"] * MJ_PER_J / TARGET_FORCE_N for row in by_shoe.order_by("specimen__shoe")])
