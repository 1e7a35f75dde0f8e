"""Reads of gauge studies: which tests are theirs, what is still to be tested, the readings to analyse."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.http import Http404
from django.utils import timezone

from core.models import User
from labtests.domain.studies.run_order import Run, run_order
from labtests.models import BenchTest, GaugeStudy, Result, Specimen, State

COLUMNS = {"torque": "torque_15_nm", "deflection": "deflection_mm", "stability": "stability"}


@dataclass(frozen=True, slots=True)
class StudyTest:
    """A test of a study; `values` by key of `labtests.forms.quantities.STUDIED`, None where it was not read."""

    test: int
    specimen: str
    operator: str
    performed_at: dt.datetime
    values: dict[str, float | None]


@dataclass(frozen=True, slots=True)
class StudyCell:
    """What one operator tested of one specimen: the first tests up to the plan count, later ones are `beyond`."""

    specimen: str
    operator: str
    tests: tuple[StudyTest, ...]
    beyond: tuple[StudyTest, ...]
    missing: int


@dataclass(frozen=True, slots=True)
class StudyProgress:
    """A study with its cells, specimen by specimen, and the tests still to be made in the order to make them."""

    study: GaugeStudy
    specimens: tuple[str, ...]
    operators: tuple[str, ...]
    cells: tuple[StudyCell, ...]
    to_do: tuple[Run, ...]

    @property
    def wanted(self) -> int:
        return len(self.specimens) * len(self.operators) * self.study.trials

    @property
    def found(self) -> int:
        return sum(len(cell.tests) for cell in self.cells)

    @property
    def is_complete(self) -> bool:
        return self.found == self.wanted


def specimen_named(code: str) -> Specimen | None:
    return Specimen.objects.filter(code=code.strip()).first()


def specimens_named(codes: list[str]) -> dict[str, Specimen]:
    return {specimen.code: specimen for specimen in Specimen.objects.filter(code__in=codes)}


def people_named(names: list[str]) -> dict[str, User]:
    return {user.username: user for user in User.objects.filter(username__in=names, is_active=True)}


def study_list() -> QuerySet[GaugeStudy]:
    return GaugeStudy.objects.select_related("rig", "planned_by", "closed_by")


def study_get(pk: int) -> GaugeStudy:
    study = study_list().filter(pk=pk).first()
    if study is None:
        raise Http404
    return study


def counted_tests(begins_on: dt.date | None, ends_on: dt.date | None) -> QuerySet[BenchTest]:
    """Tests that studies and comparisons count: accepted or approved within the protocol, with their stability."""
    result = Result.objects.filter(test=OuterRef("pk"), scoring_model__is_current=True)
    tests = BenchTest.objects.filter(state__in=[State.ACCEPTED, State.APPROVED], is_released=False)
    if begins_on is not None:
        tests = tests.filter(performed_at__gte=_start_of(begins_on))
    if ends_on is not None:
        tests = tests.filter(performed_at__lt=_start_of(ends_on + dt.timedelta(days=1)))
    return tests.annotate(stability=Subquery(result.values("stability")[:1])).order_by("performed_at", "pk")


def _start_of(day: dt.date) -> dt.datetime:
    return timezone.make_aware(dt.datetime.combine(day, dt.time.min))


def study_progress(study: GaugeStudy) -> StudyProgress:
    """Sort the tests of a study into its cells, in three queries."""
    specimens = tuple(study.specimens.order_by("code").values_list("code", flat=True))
    operators = tuple(study.operators.order_by("username").values_list("username", flat=True))
    found: dict[tuple[str, str], list[StudyTest]] = {}
    for test in _tests_of(study, specimens, operators):
        found.setdefault((test.specimen, test.operator), []).append(test)
    cells = tuple(
        _cell(specimen, operator, found.get((specimen, operator), []), study.trials)
        for specimen in specimens
        for operator in operators
    )
    done = {(cell.specimen, cell.operator): len(cell.tests) for cell in cells}
    # The study's number as the seed: the same order whenever it is looked at.
    order = run_order(specimens, operators, study.trials, rng=np.random.default_rng(study.pk))
    to_do = tuple(run for run in order if run.trial > done[run.part, run.operator])
    return StudyProgress(study, specimens, operators, cells, to_do)


def _tests_of(study: GaugeStudy, specimens: tuple[str, ...], operators: tuple[str, ...]) -> list[StudyTest]:
    tests = counted_tests(study.begins_on, study.ends_on).filter(
        Q(rig=study.rig_id, specimen__code__in=specimens, operator__username__in=operators)
    )
    columns = ("pk", "specimen__code", "operator__username", "performed_at", *COLUMNS.values())
    return [
        StudyTest(test, specimen, operator, at, dict(zip(COLUMNS, values, strict=True)))
        for test, specimen, operator, at, *values in tests.values_list(*columns)
    ]


def _cell(specimen: str, operator: str, tests: list[StudyTest], trials: int) -> StudyCell:
    counted = tests[:trials]
    return StudyCell(specimen, operator, tuple(counted), tuple(tests[trials:]), trials - len(counted))
