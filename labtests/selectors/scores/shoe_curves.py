"""The curves of a shoe for the public: its tests that count, averaged on a few points."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.curves.averaged_curves import STEPS, AveragedCurve, averaged, deflection_at, torque_at
from labtests.domain.curves.curves import CONTACT_FORCE_N, Target
from labtests.models import BenchTest, Branch, Curve, CurveKind, Reading
from labtests.selectors.scores import methods


def curves_of_shoes(shoes: Collection[int]) -> dict[int, dict[str, AveragedCurve]]:
    """Average the curves of the tests that count for some shoes, by shoe and kind: four queries, however many shoes.

    A shoe whose tests were submitted as readings only, or that has none, has no curve.
    """
    tests = BenchTest.objects.publishable().filter(specimen__shoe__in=shoes, results__scoring_model__is_current=True)
    owners = {test: (shoe, specimen) for test, shoe, specimen in tests.values_list("pk", "specimen__shoe", "specimen")}
    grids = _grids()
    recorded: dict[tuple[int, str], list[tuple[int, FloatArray]]] = {}
    for curve, values in _read(owners, grids):
        shoe, specimen = owners[curve.test_id]
        recorded.setdefault((shoe, curve.kind), []).append((specimen, values))
    found: dict[int, dict[str, AveragedCurve]] = {shoe: {} for shoe in shoes}
    for (shoe, kind), rows in recorded.items():
        mean = averaged(grids[kind], [values for _, values in rows], np.array([specimen for specimen, _ in rows]))
        if mean is not None:
            found[shoe][kind] = mean
    return found


def _grids() -> dict[str, FloatArray]:
    """Where curves are averaged: from nothing to what the protocol in use reads the scores at."""
    protocol = methods.protocol_current()
    target = Target(protocol.torsion_deg, protocol.compression_n)
    return {
        CurveKind.TORSION: np.linspace(0.0, target.angle_deg, STEPS + 1),
        CurveKind.COMPRESSION: np.linspace(CONTACT_FORCE_N, target.reached_n, STEPS + 1),
    }


def _read(tests: Mapping[int, object], grids: Mapping[str, FloatArray]) -> Iterator[tuple[Curve, FloatArray]]:
    """Read every recording of some tests on the points of its kind; those that could not be scored are left out."""
    readings = {(one.test_id, one.repeat): one for one in Reading.objects.filter(test__in=tests)}
    for curve in Curve.objects.filter(test__in=tests, branch=Branch.LOADING).iterator():
        reading = readings.get((curve.test_id, curve.repeat))
        values = None if reading is None else _values(curve, reading, grids[curve.kind])
        if values is not None:
            yield curve, values


def _values(curve: Curve, reading: Reading, grid: FloatArray) -> FloatArray | None:
    position, load = curve.points()
    if curve.kind == CurveKind.TORSION:
        return None if reading.zero_offset_nm is None else torque_at(position, load - reading.zero_offset_nm, grid)
    return None if reading.contact_mm is None else deflection_at(position - reading.contact_mm, load, grid)
