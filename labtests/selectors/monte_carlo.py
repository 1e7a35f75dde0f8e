"""A test's uncertainty once more by Monte Carlo: its own curves read again, beside the budget of its scores."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from django.core.cache import cache
from scipy.special import stdtrit

from core.domain.units import FloatArray
from labtests.domain.scores.curve_draws import Points, Response, response_of_curves, response_of_readings
from labtests.domain.scores.monte_carlo import Inputs, Normal, Rectangular, Simulated, simulate_scores
from labtests.domain.scores.propagation import Budget, BudgetRow
from labtests.domain.scores.scoring import SCORES
from labtests.models import BenchTest, Branch, CurveKind, Result

# Gives the ends of an interval to about 0.5 % of its width and takes less than half a second.
DRAWS = 200_000
KEPT_SECONDS = 24 * 3600
LEVEL = 0.9545
"""Of the intervals: what k = 2 stands for."""
QUANTITIES = ("torque", "angle", "displacement", "force")
READINGS = {"torque": "midfoot", "deflection": "rearfoot", "work": "cushioning"}
# Sources that act on curves or readings by name; every other row of a budget acts in a straight line.
CONTACT = "force, calibration at the contact"
CALIBRATED = frozenset({f"{name}, {part}" for name in QUANTITIES for part in ("calibration", "resolution")} | {CONTACT})
EVEN = ("midsole temperature", "work, shape")
"""Beginnings of the sources that are spread evenly between bounds."""


@dataclass(frozen=True, slots=True)
class Compared:
    """One score by both ways: its interval by the budget (GUM), k by Student's t, and by draws (JCGM 101)."""

    name: str
    value: float
    expanded: float
    k: float
    simulated: Simulated

    @property
    def simulated_expanded(self) -> float:
        return self.simulated.half_width

    @property
    def difference_percent(self) -> float:
        """Of the draws from the budget, in per cent of the budget's."""
        return 100.0 * (self.simulated_expanded / self.expanded - 1.0) if self.expanded > 0.0 else 0.0

    @property
    def verdict(self) -> str:
        """Whether both ends are the same to the first significant digit of u (JCGM 101:2008, 8.1, from memory).

        "agrees", or which of the two is wider where they are not: "wider" or "narrower" of the budget.
        """
        if self.expanded == 0.0:
            return "agrees"
        tolerance = 0.5 * 10.0 ** math.floor(math.log10(self.expanded / self.k))
        beyond = self.value - self.expanded - self.simulated.low, self.simulated.high - self.value - self.expanded
        if max(abs(end) for end in beyond) <= tolerance:
            return "agrees"
        return "narrower" if max(beyond) > tolerance else "wider"


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
    return tuple(_line(name, result, found[name]) for name in SCORES)


def _line(name: str, result: Result, simulated: Simulated) -> Compared:
    df = result.budget_tables[name].df
    k = -float(stdtrit(max(1.0, math.floor(df)), (1.0 - LEVEL) / 2.0)) if math.isfinite(df) else 2.0
    return Compared(name, getattr(result, name), k * getattr(result, f"{name}_u"), k, simulated)


def _simulate(test: BenchTest, result: Result) -> dict[str, Simulated]:
    budgets = result.budget_tables
    rows = {row.source: row for budget in budgets.values() for row in budget.rows}
    target = test.protocol.to_domain().target
    means = [value or 0.0 for value in (test.torque_15_nm, test.deflection_mm, test.work_j)]
    curves = {kind: _curves(test, kind) for kind in CurveKind}
    response: Response
    if all(curves.values()):
        u = _u(rows, "angle"), rows[CONTACT].u if CONTACT in rows else 0.0, _u(rows, "force")
        torsions, compressions = curves[CurveKind.TORSION], curves[CurveKind.COMPRESSION]
        response = response_of_curves(torsions, compressions, target=target, u=u)
    else:
        response = response_of_readings(*means, target=target)
    repeats = {name: _repeats_of(rows, name) for name in READINGS}
    covariance, df = _scatter(test, repeats, budgets)
    taken = {row.source for row in repeats.values() if row is not None} | CALIBRATED
    inputs = Inputs(np.array(means), covariance, df, _errors(rows), _others(budgets, taken))
    # The same draws each time: whoever looks again sees the same figures.
    rng = np.random.default_rng(result.pk)
    model = result.scoring_model.to_domain()
    return simulate_scores(response, inputs, model=model, draws=DRAWS, rng=rng, level=LEVEL)


def _curves(test: BenchTest, kind: CurveKind) -> list[Points]:
    """The loading curves of the repeats that were read."""
    column = "torque_15_nm" if kind == CurveKind.TORSION else "deflection_mm"
    read = {reading.repeat for reading in test.readings.all() if getattr(reading, column) is not None}
    return [
        curve.points()
        for curve in test.curves.all()
        if (curve.kind, curve.branch) == (kind, Branch.LOADING) and curve.repeat in read
    ]


def _u(rows: Mapping[str, BudgetRow], quantity: str) -> float:
    return math.hypot(
        *(rows[source].u for part in ("calibration", "resolution") if (source := f"{quantity}, {part}") in rows)
    )


def _errors(rows: Mapping[str, BudgetRow]) -> dict[str, list[Normal | Rectangular]]:
    errors: dict[str, list[Normal | Rectangular]] = {
        name: [
            *(Normal(0.0, rows[source].u) for source in [f"{name}, calibration"] if source in rows),
            *(_even(rows[source].u) for source in [f"{name}, resolution"] if source in rows),
        ]
        for name in QUANTITIES
    }
    errors["contact"] = [Normal(0.0, rows[CONTACT].u)] if CONTACT in rows else []
    return errors


def _even(u: float) -> Rectangular:
    return Rectangular(0.0, u * math.sqrt(3.0))


def _repeats_of(rows: Mapping[str, BudgetRow], name: str) -> BudgetRow | None:
    """The scatter of a reading's repeats in the budget."""
    found = (row for row in rows.values() if row.type_ == "A" and row.source.startswith(f"{name}, "))
    return next((row for row in found if "noise of the curve" not in row.source), None)


def _scatter(
    test: BenchTest, repeats: Mapping[str, BudgetRow | None], budgets: Mapping[str, Budget]
) -> tuple[FloatArray, float]:
    """Covariance of the three means: u of the budget, correlation of the test's own repeats; and their df."""
    u = np.array([0.0 if row is None else row.u for row in repeats.values()])
    columns = ("torque_15_nm", "deflection_mm", "work_j")
    values = [[getattr(reading, column) for column in columns] for reading in test.readings.all()]
    full = np.array([row for row in values if None not in row], dtype=float).reshape(-1, len(columns))
    correlation = np.eye(len(columns))
    if len(full) > 2:
        spread = full.std(axis=0)
        off = (full - full.mean(axis=0)) / np.where(spread > 0.0, spread, 1.0)
        correlation = off.T @ off / len(full)
    return np.outer(u, u) * correlation, _df_of(repeats["torque"], budgets["midfoot"])


def _df_of(row: BudgetRow | None, budget: Budget) -> float:
    """Degrees of freedom of the one source of a budget that has few, from those of the whole (Welch-Satterthwaite)."""
    if row is None or not math.isfinite(budget.df):
        return math.inf
    share = next((one.share for one in budget.rows if one.source == row.source), 0.0)
    return max(1.0, budget.df * share**2)


def _others(
    budgets: Mapping[str, Budget], taken: set[str] | frozenset[str]
) -> list[tuple[Normal | Rectangular, dict[str, float]]]:
    """Every other row, with the sensitivity of each score that it acts on."""
    acts: dict[str, dict[str, float]] = {}
    drawn: dict[str, Normal | Rectangular] = {}
    for name, budget in budgets.items():
        for row in budget.rows:
            if row.source not in taken:
                acts.setdefault(row.source, {})[name] = row.sensitivity
                drawn[row.source] = _even(row.u) if row.source.startswith(EVEN) else Normal(0.0, row.u)
    return [(drawn[source], acts[source]) for source in acts]
