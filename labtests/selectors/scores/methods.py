"""The protocol and scoring model in use, rigs with their calibrations, and the scale of bands."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from catalogue.models import Scale
from core.domain.units import FloatArray, IntArray
from labtests.domain.scores.bands import Band
from labtests.domain.uncertainty.scatter import Scatter, pool_repeats
from labtests.models import BenchTest, Protocol, Reading, Rig, ScoringModel, State

# Newest tests that the history of a rig is pooled over. With three repeats each they give 500 degrees of freedom, so
# that the scatter is known within some 3 %; more would take longer to read at each upload than they are worth.
HISTORY_TESTS = 250


def protocol_current() -> Protocol:
    return Protocol.objects.get(is_current=True)


def scoring_model_current() -> ScoringModel:
    return ScoringModel.objects.select_related("scale").get(is_current=True)


def bands_of(scale: Scale) -> tuple[Band, ...]:
    return tuple(Band(band.order, band.name, band.lower, band.upper) for band in scale.bands.order_by("order"))


def scatter_of_rig(rig: Rig, source: str) -> Scatter | None:
    """Pool the scatter of a rig's newest tests of a source, void ones left out; None without any history."""
    tests = BenchTest.objects.filter(rig=rig, source=source).exclude(state=State.VOID).order_by("-pk")
    newest = Reading.objects.filter(test__in=tests.values("pk")[:HISTORY_TESTS]).order_by("-pk")
    rows = newest.values_list("test_id", "torque_15_nm", "deflection_mm", "work_j")
    return pool_repeats(*arrays_of_repeats(rows))[0]


def arrays_of_repeats(rows: Iterable[tuple[Any, ...]]) -> tuple[IntArray, FloatArray]:
    """Return test, shape (n,), and torque, deflection and work, shape (n, 3), of rows of these; None becomes nan."""
    columns = np.array([*rows], dtype=np.float64).reshape(-1, 4)
    return columns[:, 0].astype(np.int64), columns[:, 1:]
