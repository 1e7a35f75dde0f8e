"""Curves of any tests, aligned as they are scored, and their differences from the first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from core.domain.units import FloatArray
from labtests.domain.curves.mean_curves import MeanCurve, difference_curve, mean_curve
from labtests.models import BenchTest, Branch, Curve, CurveKind, Reading
from labtests.selectors.bench_tests import bench_tests_chosen

MOST_TESTS = 8


@dataclass(frozen=True, slots=True, eq=False)
class OverlaidTest:
    """A test with the mean loading curve of its repeats by kind, and how each differs from the first test's.

    Torsion: torque less its value at 0° (N·m) over the angle (°). Compression: force (N) over the displacement from
    the first contact (mm).
    """

    test: BenchTest
    curves: dict[str, MeanCurve]
    differences: dict[str, MeanCurve]


def overlay(numbers: Sequence[int]) -> list[OverlaidTest]:
    """The tests of these numbers in their order; four queries, however many. Those without curves have none here."""
    tests = bench_tests_chosen(numbers[:MOST_TESTS])
    curves: dict[tuple[int, str], list[Curve]] = {}
    for curve in Curve.objects.filter(test__in=tests, branch=Branch.LOADING):
        curves.setdefault((curve.test_id, curve.kind), []).append(curve)
    readings = {(one.test_id, one.repeat): one for one in Reading.objects.filter(test__in=tests)}
    found: list[OverlaidTest] = []
    for test in tests:
        means = {kind: _mean(curves.get((test.pk, kind), ()), readings) for kind in CurveKind.values}
        known = {kind: mean for kind, mean in means.items() if mean is not None}
        found.append(OverlaidTest(test, known, _differences(found[0].curves if found else {}, known)))
    return found


def _mean(curves: Sequence[Curve], readings: dict[tuple[int, int], Reading]) -> MeanCurve | None:
    """The mean over the repeats that could be read; the others have no zero to begin from."""
    aligned = (_aligned(curve, readings.get((curve.test_id, curve.repeat))) for curve in curves)
    return mean_curve([points for points in aligned if points is not None])


def _aligned(curve: Curve, reading: Reading | None) -> tuple[FloatArray, FloatArray] | None:
    position, load = curve.points()
    if reading is None:
        return None
    if curve.kind == CurveKind.TORSION:
        return None if reading.zero_offset_nm is None else (position, load - reading.zero_offset_nm)
    return None if reading.contact_mm is None else (position - reading.contact_mm, load)


def _differences(first: dict[str, MeanCurve], curves: dict[str, MeanCurve]) -> dict[str, MeanCurve]:
    found = {kind: difference_curve(first[kind], curve) for kind, curve in curves.items() if kind in first}
    return {kind: difference for kind, difference in found.items() if difference is not None}
