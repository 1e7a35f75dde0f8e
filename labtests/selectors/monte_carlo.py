"""A test's uncertainty once more by Monte Carlo, from the budget that was kept with its scores."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.core.cache import cache

from core.domain.coverage import coverage_factor
from labtests.domain.scores.evaluation import Evaluation, Summary
from labtests.domain.scores.monte_carlo import Simulated, simulate_scores
from labtests.domain.scores.propagation import Budget
from labtests.domain.scores.reading_squares import squares_of_scores
from labtests.domain.scores.scatter import Scatter
from labtests.domain.scores.scoring import SCORES, Scores
from labtests.domain.scores.uncertainty import Calibration
from labtests.models import BenchTest, Result

# Gives u to 0.2 % and takes less than a tenth of a second.
DRAWS = 200_000
KEPT_SECONDS = 24 * 3600
QUANTITIES = ("torque", "angle", "displacement", "force")


@dataclass(frozen=True, slots=True)
class Compared:
    """One score by both ways: its standard uncertainty by the budget (GUM) and by draws (JCGM 101)."""

    name: str
    u: float
    simulated: Simulated
    df: float | None

    @property
    def k(self) -> float:
        return coverage_factor(self.df)

    @property
    def expanded(self) -> float:
        return self.k * self.u

    @property
    def simulated_expanded(self) -> float:
        return self.k * self.simulated.u

    @property
    def difference_percent(self) -> float:
        """Of the draws from the budget, in per cent of the budget's."""
        return 100.0 * (self.simulated.u / self.u - 1.0) if self.u > 0.0 else 0.0


def compared(test: BenchTest, result: Result) -> tuple[Compared, ...]:
    """Each score by both ways; empty where the uncertainty is not known. A result never changes, so it is kept.

    Parameters
    ----------
    result : with its budgets (`result_by`)
    """
    if not result.budget_tables or result.stability_u is None:
        return ()
    key = f"labtests.monte_carlo.{result.pk}.{DRAWS}"
    found: dict[str, Simulated] | None = cache.get(key)
    if found is None:
        found = _simulate(test, result)
        cache.set(key, found, KEPT_SECONDS)
    return tuple(
        Compared(name, getattr(result, f"{name}_u"), found[name], getattr(result, f"{name}_df")) for name in SCORES
    )


def _simulate(test: BenchTest, result: Result) -> dict[str, Simulated]:
    torque, deflection, work = (
        Summary(1, value or 0.0, None) for value in (test.torque_15_nm, test.deflection_mm, test.work_j)
    )
    known = _inputs(result.budget_tables)
    scatter = _scatter(result)
    calibrations = [
        Calibration(name, known[f"{name}, calibration"], known[f"{name}, resolution"] * np.sqrt(12.0))
        for name in QUANTITIES
    ]
    evaluation = Evaluation((), torque, deflection, work, None, test.work_is_estimated, ())
    # The same draws each time: whoever looks again sees the same figures.
    rng = np.random.default_rng(result.pk)
    return simulate_scores(
        evaluation,
        scatter,
        calibrations,
        model=result.scoring_model.to_domain(),
        draws=DRAWS,
        rng=rng,
        target=test.protocol.to_domain().target,
    )


def _scatter(result: Result) -> Scatter:
    """What repeats, day and set-up leave in the readings, from what they leave in the scores."""
    left = Scores(**{name: np.array([_left(result, name)]) for name in SCORES})
    torque2, deflection2, work2, product = squares_of_scores(left, result.scoring_model.to_domain())[0].tolist()
    # That deflection and work of a repeat go together moves no score by itself.
    return Scatter(torque2, deflection2, work2, 0.0, np.inf, "the budget", torque_deflection=product)


def _left(result: Result, name: str) -> float:
    square: float = getattr(result, f"{name}_u") ** 2 - getattr(result, f"{name}_u_b") ** 2
    return float(np.sqrt(max(0.0, square)))


def _inputs(budgets: dict[str, Budget]) -> dict[str, float]:
    """The standard uncertainty of each source, which is the same in every budget that it is in."""
    known = {}
    for budget in budgets.values():
        for row in budget.rows:
            known[row.source] = row.u
    return known
