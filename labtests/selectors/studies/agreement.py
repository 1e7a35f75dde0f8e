"""Reads for judging rigs against what they state: specimens that several tested within weeks, with their budgets."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from labtests.domain.studies.agreement import Agreement, RigMean, RigReading, agreements, mean_of_rig
from labtests.models import BenchTest, ScoringModel
from labtests.selectors.scores.scoring_models import result_by
from labtests.selectors.studies.studies import counted_tests

# Foam ages: tests further apart are not a comparison of rigs.
WINDOW = dt.timedelta(days=90)
# A reading is linear in its score, and so are their uncertainties.
COLUMN_OF = {"torque": "torque_15_nm", "deflection": "deflection_mm"}
SCORE_OF = {"torque": "midfoot", "deflection": "rearfoot", "stability": "stability"}
RIG_SOURCES = (", calibration", ", resolution")
UNWORN = Q(worn_km__isnull=True) | Q(worn_km=0)


@dataclass(frozen=True, slots=True)
class SpecimenAgreement:
    """What every pair of rigs that tested a specimen within the window comes to, in SI units or points."""

    specimen: str
    pairs: tuple[Agreement, ...]


def agreements_of(
    codes: Sequence[str], key: str, *, since: dt.date | None = None, until: dt.date | None = None
) -> dict[str, SpecimenAgreement]:
    """Judge the rigs on specimens, each by its tests within 90 days of its newest; three queries."""
    tests = _complete(counted_tests(since, until).filter(UNWORN, specimen__code__in=codes))
    return {each.specimen: each for each in _judged(tests, key)}


def disagreements(today: dt.date) -> list[tuple[str, SpecimenAgreement]]:
    """For each reading the specimens of the last 90 days on which rigs disagree, with the pairs that do."""
    recent = counted_tests(today - WINDOW, None).filter(UNWORN)
    on_several = recent.order_by().values("specimen").annotate(n=Count("rig", distinct=True)).filter(n__gte=2)
    tests = list(_complete(recent.filter(specimen__in=on_several.values("specimen"))))
    return [
        (key, SpecimenAgreement(each.specimen, beyond))
        for key in COLUMN_OF
        for each in _judged(tests, key)
        if (beyond := tuple(pair for pair in each.pairs if pair.is_beyond))
    ]


def _complete(tests: QuerySet[BenchTest]) -> QuerySet[BenchTest]:
    return tests.select_related("specimen", "rig").prefetch_related("results__scoring_model")


def _judged(tests: Iterable[BenchTest], key: str) -> list[SpecimenAgreement]:
    by_specimen: dict[str, list[BenchTest]] = {}
    for test in tests:
        by_specimen.setdefault(test.specimen.code, []).append(test)
    return [SpecimenAgreement(code, _pairs(rows, key)) for code, rows in sorted(by_specimen.items())]


def _pairs(tests: list[BenchTest], key: str) -> tuple[Agreement, ...]:
    newest = max(test.performed_at for test in tests)
    by_rig: dict[str, list[RigReading]] = {}
    for test in tests:
        reading = _reading(test, key)
        if reading is not None and newest - test.performed_at <= WINDOW:
            by_rig.setdefault(test.rig.code, []).append(reading)
    means = [mean_of_rig(rig, readings) for rig, readings in sorted(by_rig.items())]
    return agreements(means, shared=_shared(means)) if means else ()


def _shared(means: Sequence[RigMean]) -> frozenset[str]:
    """Sources that are neither repeats nor the rig's own: what is assumed of the foam or the method moves all alike."""
    common = frozenset.intersection(*(frozenset(mean.type_b) for mean in means))
    return frozenset(source for source in common if not any(own in source for own in RIG_SOURCES))


def _reading(test: BenchTest, key: str) -> RigReading | None:
    """What a test states by the current model; None where its uncertainty is not known."""
    current = next((found for found in test.results.all() if found.scoring_model.is_current), None)
    result = result_by(test, current.scoring_model.version) if current else None
    budget = result.budget_tables.get(SCORE_OF[key]) if result else None
    if result is None or budget is None:
        return None
    scale = _per_point(result.scoring_model, key)
    value = getattr(test, COLUMN_OF[key]) if key in COLUMN_OF else result.stability
    type_a = math.hypot(*(scale * row.contribution for row in budget.rows if row.type_ == "A"))
    type_b = {row.source: scale * row.contribution for row in budget.rows if row.type_ != "A"}
    return RigReading(value, type_a, type_b, getattr(result, f"{SCORE_OF[key]}_df"))


def _per_point(model: ScoringModel, key: str) -> float:
    """How much of the reading a point of its score is."""
    if key == "torque":
        return abs(model.torque_100_nm - model.torque_0_nm) / 100.0
    if key == "deflection":
        return abs(model.deflection_100_mm - model.deflection_0_mm) / 100.0
    return 1.0
