"""Reads for comparing two tests of a shoe: which there are, which to begin with, and what their rigs' errors share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.models import Shoe
from labtests.domain.scores.differences import Difference, Measured, Part, difference
from labtests.domain.scores.scoring import SCORES
from labtests.models import BenchTest, Calibration, Result, ScoringModel, State
from labtests.models.rigs import calibrations_on
from labtests.selectors.bench_tests import bench_test_list
from labtests.selectors.scores.methods import scoring_model_current
from labtests.selectors.studies.agreement import WINDOW

# Readings are linear in a score, so that a score's uncertainty is the reading's on another scale.
READING_OF = {"midfoot": "torque_15_nm", "rearfoot": "deflection_mm", "cushioning": "work_j"}
MOST_OFFERED = 200


@dataclass(frozen=True, slots=True, eq=False)
class Scored:
    """A test with its result by the current model."""

    test: BenchTest
    result: Result


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """Two tests, the second less the first: by score, and by what was read, in N·m, mm and J."""

    first: Scored
    second: Scored
    scores: dict[str, Difference]
    readings: dict[str, Difference]
    shared: tuple[str, ...]

    @property
    def is_of_rigs(self) -> bool:
        """Whether one specimen, worn as far, was tested on two rigs within weeks: what differs then is the rigs."""
        first, second = self.first.test, self.second.test
        is_same = first.specimen_id == second.specimen_id and (first.worn_km or 0.0) == (second.worn_km or 0.0)
        return is_same and first.rig_id != second.rig_id and abs(first.performed_at - second.performed_at) <= WINDOW


def comparable_tests(shoe: Shoe) -> list[Scored]:
    """Tests of a shoe that the current model scored, void ones left out, newest first."""
    model = scoring_model_current()
    tests = bench_test_list().filter(specimen__shoe=shoe, results__scoring_model=model).exclude(state=State.VOID)
    return [
        Scored(test, next(result for result in test.results.all() if result.scoring_model_id == model.pk))
        for test in tests[:MOST_OFFERED]
    ]


def scored_by_current(pk: int) -> Scored | None:
    """A test with its result by the current model; None where that has not scored it."""
    model = scoring_model_current()
    test = bench_test_list().filter(pk=pk).first()
    results = test.results.all() if test else ()
    result = next((result for result in results if result.scoring_model_id == model.pk), None)
    return Scored(test, result) if test and result else None


def first_choice(found: Sequence[Scored]) -> tuple[Scored, Scored] | None:
    """Left against right where both were tested, unworn first; else two specimens; None where there is one at most."""
    fresh = sorted(found, key=lambda one: (one.test.worn_km or 0.0, -one.test.performed_at.timestamp()))
    left = next((one for one in fresh if one.test.specimen.side == "left"), None)
    right = next((one for one in fresh if one.test.specimen.side == "right"), None)
    if left and right:
        return left, right
    first = fresh[0] if fresh else None
    others = [one for one in fresh[1:] if first and one.test.specimen_id != first.test.specimen_id]
    second = next(iter([*others, *fresh[1:]]), None)
    return (first, second) if first and second else None


def compare(first: Scored, second: Scored) -> Comparison:
    """Differences, second less first."""
    shared = _shared_sources(first, second)
    model = first.result.scoring_model
    scores = {
        name: difference(_measured(first.result, name), _measured(second.result, name), shared=shared)
        for name in SCORES
    }
    readings = {
        column: _reading_difference(first.test, second.test, column, scores[name], model)
        for name, column in READING_OF.items()
    }
    return Comparison(first, second, scores, readings, shared)


def _shared_sources(first: Scored, second: Scored) -> tuple[str, ...]:
    """The calibrations that both tests stood on: the same rig, and the same certificate on both days."""
    if first.test.rig_id != second.test.rig_id:
        return ()
    known = list(Calibration.objects.filter(rig=first.test.rig_id).valid())
    mine, theirs = (calibrations_on(known, one.test.performed_at.date()) for one in (first, second))
    sources = {row.source for budget in first.result.budget_tables.values() for row in budget.rows}
    shared: list[str] = []
    for quantity, found in mine.items():
        if theirs.get(quantity) == found:
            name = f"{quantity}, calibration"
            shared += sorted(source for source in sources if source.startswith(f"{name}: ")) or [name]
    return tuple(shared)


def _measured(result: Result, name: str) -> Measured:
    budget = result.budget_tables.get(name)
    parts = tuple(Part(row.source, row.u, row.sensitivity, row.df) for row in budget.rows) if budget else None
    return Measured(getattr(result, name), parts or None)


def _reading_difference(
    first: BenchTest, second: BenchTest, column: str, by_score: Difference, model: ScoringModel
) -> Difference:
    """The difference of what was read: the score's uncertainty on the reading's scale."""
    value = getattr(second, column) - getattr(first, column)
    anchor = {"torque_15_nm": "torque_{}_nm", "deflection_mm": "deflection_{}_mm", "work_j": "work_{}_j"}[column]
    per_point = abs(getattr(model, anchor.format(100)) - getattr(model, anchor.format(0))) / 100.0
    if by_score.u is None or by_score.expanded is None:
        return Difference(value, None, None, None)
    return Difference(value, by_score.u * per_point, by_score.expanded * per_point, by_score.is_beyond, by_score.df)
