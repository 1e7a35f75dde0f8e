"""The protocol and scoring model in use, rigs with their calibrations, and the scale of bands."""

from __future__ import annotations

from catalogue.models import Scale
from labtests.domain.scores.bands import Band
from labtests.domain.scores.evaluation import Repeat
from labtests.domain.uncertainty.scatter import Scatter, pool_scatter, scatter_of_repeats
from labtests.models import Protocol, Reading, Rig, ScoringModel, State

# Newest readings that the history of a rig is pooled over: enough for a steady figure, quick to read.
HISTORY_READINGS = 3000


def protocol_current() -> Protocol:
    return Protocol.objects.get(is_current=True)


def scoring_model_current() -> ScoringModel:
    return ScoringModel.objects.select_related("scale").get(is_current=True)


def bands_of(scale: Scale) -> tuple[Band, ...]:
    return tuple(Band(band.order, band.name, band.lower, band.upper) for band in scale.bands.order_by("order"))


def scatter_of_rig(rig: Rig, source: str) -> Scatter | None:
    """Pool the scatter of a rig's tests of the same source, void ones left out; None without any history."""
    rows = (
        Reading.objects.filter(test__rig=rig, test__source=source)
        .exclude(test__state=State.VOID)
        .order_by("-pk")
        .values_list("test_id", "repeat", "torque_15_nm", "deflection_mm", "work_j")[:HISTORY_READINGS]
    )
    by_test: dict[int, list[Repeat]] = {}
    for test_id, repeat, torque, deflection, work in rows:
        found = Repeat(repeat, torque_15_nm=torque, deflection_mm=deflection, work_j=work)
        by_test.setdefault(test_id, []).append(found)
    scatters = (scatter_of_repeats(repeats) for repeats in by_test.values())
    return pool_scatter([scatter for scatter in scatters if scatter is not None])
