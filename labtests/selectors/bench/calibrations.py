"""Reads of calibrations: one with the one before it, which tests depend on one, and who is in doubt by a struck one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import QuerySet
from django.http import Http404

from labtests.domain.conditions.calibration_fit import CalibrationFit, fit_points
from labtests.domain.conditions.calibrations import Drift, drift_since
from labtests.models import BenchTest, Calibration, Result, Rig
from labtests.models.rigs import calibrations_on


def calibration_get(pk: int) -> Calibration:
    """Find a calibration with its people, or answer 404."""
    rows = Calibration.objects.select_related("rig", "recorded_by", "signed_by", "struck_by")
    found = rows.filter(pk=pk).first()
    if found is None:
        raise Http404
    return found


def calibration_list(rig: Rig) -> QuerySet[Calibration]:
    """Every calibration of a rig with its people, the newest of each quantity first."""
    rows = Calibration.objects.filter(rig=rig).select_related("rig", "recorded_by", "signed_by")
    return rows.order_by("quantity", "-calibrated_on", "-pk")


@dataclass(frozen=True, slots=True, eq=False)
class DriftSince:
    """The calibration before, and how far the quantity has drifted since; `drifts` is empty where it is not known."""

    previous: Calibration
    drifts: tuple[Drift, ...]


def drift_of(calibration: Calibration) -> DriftSince | None:
    """Compare a calibration with the one before it; None for the first."""
    earlier = Calibration.objects.valid().filter(
        rig=calibration.rig_id, quantity=calibration.quantity, calibrated_on__lt=calibration.calibrated_on
    )
    previous = earlier.order_by("-calibrated_on").select_related("rig").first()
    if previous is None:
        return None
    return DriftSince(previous, drift_since(previous.to_domain(), calibration.to_domain()))


def tests_covered_by(calibration: Calibration) -> QuerySet[BenchTest]:
    """Tests of the rig on the days that the calibration covers."""
    days = (calibration.calibrated_on, calibration.due_on)
    return BenchTest.objects.filter(rig=calibration.rig_id, performed_at__date__range=days)


def tests_depending_on(calibration: Calibration) -> QuerySet[BenchTest]:
    """Tests on the days for which a signed calibration is the one that counts, or would be were it not struck."""
    tests = tests_covered_by(calibration)
    newer = Calibration.objects.valid().filter(
        rig=calibration.rig_id, quantity=calibration.quantity, calibrated_on__gt=calibration.calibrated_on
    )
    for other in newer:
        if other.is_signed:
            tests = tests.exclude(performed_at__date__range=(other.calibrated_on, other.due_on))
    return tests if calibration.is_signed else tests.none()


def certificates_of(result: Result) -> dict[int, str]:
    """The numbers of the certificates that the budgets of a result come from, by their calibration; in one query."""
    rows = (row for budget in result.budget_tables.values() for row in budget.rows)
    numbers = {row.calibration for row in rows if row.calibration is not None}
    return dict(Calibration.objects.filter(pk__in=numbers).values_list("pk", "certificate")) if numbers else {}


@dataclass(frozen=True, slots=True)
class StruckCalibration:
    """Why an approved test can't be relied on: a calibration that it depends on was struck and not replaced."""

    quantity: str
    certificate: str
    because: str

    @property
    def words(self) -> str:
        return f"the {self.quantity} calibration {self.certificate} that it depends on was struck: {self.because}"


def struck_calibrations(tests: Iterable[BenchTest]) -> dict[int, list[StruckCalibration]]:
    """For each test, by its number, the struck calibrations that nothing has replaced; in one query.

    A calibration replaces a struck one where it is signed, covers the day and has the same figures and line:
    the scores of the test and their uncertainty are what they would be by it.
    """
    tests = list(tests)
    rigs = {test.rig_id for test in tests}
    by_rig: dict[int, list[Calibration]] = {rig: [] for rig in rigs}
    for found in Calibration.objects.filter(rig__in=rigs) if rigs else ():
        by_rig[found.rig_id].append(found)
    return {test.pk: _struck_for(test, by_rig[test.rig_id]) for test in tests}


def _struck_for(test: BenchTest, known: list[Calibration]) -> list[StruckCalibration]:
    day = test.performed_at.date()
    valid = calibrations_on(known, day)
    return [
        StruckCalibration(struck.quantity, struck.certificate, struck.struck_because)
        for struck in known
        if struck.is_struck and struck.covers(day) and _was_used(struck, test) and not _replaces(valid, struck)
    ]


def _was_used(struck: Calibration, test: BenchTest) -> bool:
    """Whether the calibration counted when the test was decided on."""
    decided = test.reviewed_at
    if decided is None or struck.struck_at is None or struck.struck_at < decided or not struck.is_signed:
        return False
    return struck.signed_at is None or struck.signed_at <= decided


def _replaces(valid: dict[str, Calibration], struck: Calibration) -> bool:
    found = valid.get(struck.quantity)
    if found is None or not found.is_signed:
        return False
    was_newer = found.calibrated_on > struck.calibrated_on and _was_there(found, struck)
    return was_newer or has_same_figures(found, struck)


def _was_there(other: Calibration, struck: Calibration) -> bool:
    """Whether another calibration was on record before one was struck."""
    return other.recorded_at is None or struck.struck_at is None or other.recorded_at < struck.struck_at


def has_same_figures(one: Calibration, other: Calibration) -> bool:
    """Whether the uncertainty of a test is the same by both."""
    names = ("standard_uncertainty", "resolution", "degrees_of_freedom")
    return all(getattr(one, name) == getattr(other, name) for name in names) and _fit(one) == _fit(other)


def _fit(calibration: Calibration) -> CalibrationFit | None:
    return fit_points(sorted(calibration.to_domain().points, key=lambda point: point.reference))


def struck_with_same_figures(calibration: Calibration) -> list[Calibration]:
    """The struck calibrations of the same quantity that this one can stand for."""
    struck = Calibration.objects.filter(rig=calibration.rig_id, quantity=calibration.quantity, struck_at__isnull=False)
    return [found for found in struck if has_same_figures(found, calibration)]
