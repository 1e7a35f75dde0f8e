"""Reads of wear series: which specimens were tested after distances, and their readings."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Max, Q, QuerySet, Value
from django.db.models.functions import Coalesce
from django.http import Http404

from labtests.models import Result, Specimen, State

COUNTED = Q(tests__state__in=[State.ACCEPTED, State.APPROVED], tests__is_released=False)


@dataclass(frozen=True, slots=True)
class WearPoint:
    """One test of a wear series; `values` by key of `labtests.forms.quantities.WORN`.

    `is_distance_given` is false where the file gave no distance, which is taken as new.
    """

    test: int
    performed_at: dt.datetime
    worn_km: float
    is_distance_given: bool
    rig: str
    values: dict[str, float]


def worn_specimens() -> QuerySet[Specimen]:
    """Specimens that were tested at two distances or more, the farthest first."""
    worn = Coalesce("tests__worn_km", Value(0.0))
    return (
        Specimen.objects.annotate(
            n_distances=Count(worn, filter=COUNTED, distinct=True),
            n_tests=Count("tests", filter=COUNTED),
            farthest_km=Max("tests__worn_km", filter=COUNTED),
        )
        .filter(n_distances__gte=2)
        .select_related("shoe__brand")
        .order_by("-farthest_km", "code")
    )


def specimen_get(code: str) -> Specimen:
    specimen = Specimen.objects.select_related("shoe__brand").filter(code=code).first()
    if specimen is None:
        raise Http404
    return specimen


def wear_points(specimen: Specimen) -> list[WearPoint]:
    """The scored tests of a specimen by the current model, in the order of distance; one query."""
    results = (
        Result.objects.filter(
            scoring_model__is_current=True,
            test__specimen=specimen,
            test__state__in=[State.ACCEPTED, State.APPROVED],
            test__is_released=False,
        )
        .select_related("test__rig", "test__protocol")
        .annotate(km=Coalesce("test__worn_km", Value(0.0)))
        .order_by("km", "test__performed_at", "test_id")
    )
    return [point_of(result) for result in results]


def point_of(result: Result) -> WearPoint:
    """A result as a point of a wear series; its test, rig and protocol are read already."""
    test = result.test
    values = {name: getattr(result, name) for name in ("stability", "midfoot", "rearfoot", "cushioning")}
    if test.torque_15_nm is not None:
        values["torsional_stiffness"] = test.torque_15_nm / test.protocol.torsion_deg
    if test.deflection_mm:
        values["heel_stiffness"] = test.protocol.compression_n / test.deflection_mm
    return WearPoint(test.pk, test.performed_at, test.worn_km or 0.0, test.worn_km is not None, test.rig.code, values)


def column(points: list[WearPoint], key: str) -> tuple[list[WearPoint], list[float]]:
    """The points that have a reading, and their readings."""
    counted = [point for point in points if key in point.values]
    return counted, [point.values[key] for point in counted]
