"""Tests with everything that belongs to them, read in chunks for tables of any length."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet

from catalogue.models import Band
from labtests.domain.scores.bands import Placement
from labtests.models import BenchTest, Calibration, Reading, Result, Rig
from labtests.models.rigs import calibrations_on
from labtests.selectors.bench_tests import BenchTestFilter, Scales, bench_test_list
from labtests.selectors.scores.scoring_models import result_by

CHUNK_TESTS = 250


@dataclass(frozen=True, slots=True, eq=False)
class ExportedTest:
    """A test with its readings, its newest scores, its place on the scale and the certificates of its day."""

    test: BenchTest
    readings: tuple[Reading, ...]
    result: Result | None
    placement: Placement | None
    certificates: dict[str, str]


class Certificates:
    """The calibrations of rigs, read once: which certificate covered a quantity on the day of a test."""

    def __init__(self, rigs: QuerySet[Rig]) -> None:
        self._by_rig: dict[int, list[Calibration]] = {}
        for calibration in Calibration.objects.filter(rig__in=rigs).order_by("calibrated_on", "pk"):
            self._by_rig.setdefault(calibration.rig_id, []).append(calibration)

    def covering(self, test: BenchTest) -> dict[str, Calibration]:
        """The calibration of each quantity that the test depends on."""
        return calibrations_on(self._by_rig.get(test.rig_id, ()), test.performed_at.date())


def exported_chunks(asked: BenchTestFilter) -> Iterator[list[ExportedTest]]:
    """Read the tests asked for, `CHUNK_TESTS` at a time and with the same few queries for each chunk."""
    scales, certificates = Scales(), Certificates(Rig.objects.all())
    chunk: list[ExportedTest] = []
    for test in bench_test_list(asked).prefetch_related("readings").iterator(chunk_size=CHUNK_TESTS):
        chunk.append(_exported(test, scales, certificates))
        if len(chunk) == CHUNK_TESTS:
            yield chunk
            chunk = []
    yield chunk


def _exported(test: BenchTest, scales: Scales, certificates: Certificates) -> ExportedTest:
    result = result_by(test, "")
    covering = certificates.covering(test)
    return ExportedTest(
        test,
        tuple(test.readings.all()),
        result,
        scales.place(result) if result else None,
        {quantity: item.certificate for quantity, item in covering.items()},
    )


def band_orders() -> Sequence[int]:
    """The orders of bands that any scale has."""
    return sorted(set(Band.objects.values_list("order", flat=True)))
