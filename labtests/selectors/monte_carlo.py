"""A test's uncertainty once more by Monte Carlo, from the budget that was kept with its scores."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from django.core.cache import cache

from labtests.domain.scores.evaluation import Evaluation, Summary
from labtests.domain.scores.monte_carlo import Simulated, simulate_scores
from labtests.domain.scores.propagation import Budget
from labtests.domain.scores.scoring import SCORES
from labtests.domain.scores.uncertainty import COVERAGE_FACTOR, Calibration, Scatter
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

    @property
    def expanded(self) -> float:
        return COVERAGE_FACTOR * self.u

    @property
    def simulated_expanded(self) -> float:
        return COVERAGE_FACTOR * self.simulated.u

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
    return tuple(Compared(name, getattr(result, f"{name}_u"), found[name]) for name in SCORES)


def _simulate(test: BenchTest, result: Result) -> dict[str, Simulated]:
    torque, deflection, work = (
        Summary(1, value or 0.0, None) for value in (test.torque_15_nm, test.deflection_mm, test.work_j)
    )
    known = _inputs(result.budget_tables)
    # That deflection and work of a repeat go together moves no score by itself.
    u = {name: known[f"{name}, A"] for name in ("torque", "deflection", "work")}
    scatter = Scatter(u["torque"] ** 2, u["deflection"] ** 2, u["work"] ** 2, 0.0, np.inf, "the budget")
    calibrations = [
        Calibration(name, _calibration_u(result.budget_tables, name), known[f"{name}, resolution"] * np.sqrt(12.0))
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


def _inputs(budgets: dict[str, Budget]) -> dict[str, float]:
    """The standard uncertainty of each source, which is the same in every budget that it is in."""
    known = {}
    for budget in budgets.values():
        for row in budget.rows:
            known[f"{row.source.split(',')[0]}, A" if row.type_ == "A" else row.source] = row.u
    return known


def _calibration_u(budgets: dict[str, Budget], quantity: str) -> float:
    """Standard uncertainty of a quantity's calibration: of all its sources together, as one error of the quantity."""
    budget = budgets["midfoot" if quantity in {"torque", "angle"} else "rearfoot"]
    rows = [row for row in budget.rows if row.source.startswith(f"{quantity}, calibration")]
    # The display's resolution acts directly, so that its sensitivity is that of the quantity.
    direct = next(abs(row.sensitivity) for row in budget.rows if row.source == f"{quantity}, resolution")
    return math.hypot(*(row.contribution for row in rows)) / direct
