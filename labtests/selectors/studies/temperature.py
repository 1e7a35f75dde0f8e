"""Reads of temperature studies: their tests, the coefficients fitted to them, and the basis of budgets in use."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.http import Http404

from core.domain.errors import DomainError
from labtests.domain.studies.temperature_fit import TemperatureFit, fit_temperature
from labtests.domain.uncertainty.temperature import LITERATURE, TemperatureBasis
from labtests.models import BenchTest, State, TemperatureState, TemperatureStudy

COLUMNS = {"torque": "torque_15_nm", "deflection": "deflection_mm", "work": "work_j"}
# A test that is held for its temperature alone, or for the hours that other temperatures take, is what a study needs.
ACCEPTED_CODES = frozenset({"temperature_c", "conditioned_h", "jump"})


@dataclass(frozen=True, slots=True)
class TemperatureTest:
    """A test of a study; readings in N·m, mm and J, None where they were not read or only estimated."""

    test: int
    performed_at: dt.datetime
    temperature_c: float
    values: Mapping[str, float | None]


@dataclass(frozen=True, slots=True)
class TemperatureProgress:
    """A study with the tests that count, the fits by reading, and why others have none."""

    study: TemperatureStudy
    tests: tuple[TemperatureTest, ...]
    fits: Mapping[str, TemperatureFit]
    problems: Mapping[str, str]

    @property
    def can_be_proposed(self) -> bool:
        return "torque" in self.fits and "deflection" in self.fits


def temperature_studies() -> QuerySet[TemperatureStudy]:
    return TemperatureStudy.objects.select_related("rig", "specimen", "planned_by", "proposed_by", "decided_by")


def temperature_study_get(pk: int) -> TemperatureStudy:
    study = temperature_studies().filter(pk=pk).first()
    if study is None:
        raise Http404
    return study


def temperature_progress(study: TemperatureStudy) -> TemperatureProgress:
    """The tests of a study and what follows from them, in one query."""
    tests = tuple(_tests_of(study))
    fits: dict[str, TemperatureFit] = {}
    problems: dict[str, str] = {}
    for key in COLUMNS:
        known = [(test.temperature_c, value) for test in tests if (value := test.values[key]) is not None]
        try:
            fits[key] = fit_temperature([celsius for celsius, _ in known], [value for _, value in known])
        except ValueError as problem:
            problems[key] = str(problem)
    return TemperatureProgress(study, tests, fits, problems)


def _tests_of(study: TemperatureStudy) -> list[TemperatureTest]:
    tests = BenchTest.objects.filter(
        specimen=study.specimen_id, rig=study.rig_id, performed_at__date__gte=study.begins_on
    ).exclude(state=State.VOID)
    if study.ends_on is not None:
        tests = tests.filter(performed_at__date__lte=study.ends_on)
    return [
        TemperatureTest(test.pk, test.performed_at, test.temperature_c, _values(test))
        for test in tests.order_by("performed_at", "pk")
        if {reason["code"] for reason in test.reasons} <= ACCEPTED_CODES
    ]


def _values(test: BenchTest) -> dict[str, float | None]:
    values = {key: getattr(test, column) for key, column in COLUMNS.items()}
    return values | {"work": None} if test.work_is_estimated else values


def temperature_figures(progress: TemperatureProgress) -> dict[str, Any]:
    """The fits of a study as it keeps them once they are proposed."""
    if not progress.can_be_proposed:
        problem = progress.problems.get("torque") or progress.problems.get("deflection", "")
        raise DomainError(f"The study is not complete: {problem}.", code="incomplete", status=409)
    return fitted_figures(progress)


def fitted_figures(progress: TemperatureProgress) -> dict[str, Any]:
    """The fits of a study as they are now, by reading; without those that could not be fitted."""
    return {
        key: {
            "percent_k": fit.percent_k,
            "u": fit.u,
            "low": fit.interval.low,
            "high": fit.interval.high,
            "n": fit.n,
            "from_c": fit.low_c,
            "to_c": fit.high_c,
        }
        for key, fit in progress.fits.items()
    }


def temperature_study_in_use() -> TemperatureStudy | None:
    return temperature_studies().filter(state=TemperatureState.ADOPTED).first()


def temperature_basis(study: TemperatureStudy | None) -> TemperatureBasis:
    """How readings change with the temperature: as the study in use says, by the literature's bound without one."""
    if study is None:
        return LITERATURE
    ends = {key: max((figures["low"], figures["high"]), key=abs) for key, figures in sorted(study.figures.items())}
    return TemperatureBasis(
        ends["torque"],
        ends["deflection"],
        # Where the study read no curves nothing is known of the work but the bound.
        ends.get("work", LITERATURE.work_percent_k),
        f"measured in study {study.pk}",
    )
