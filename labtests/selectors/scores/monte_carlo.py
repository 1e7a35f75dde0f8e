"""A test's uncertainty once more by Monte Carlo: its own curves read again, beside the budget of its scores."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from django.core.cache import cache

from core.domain.coverage import coverage_factor
from core.domain.units import FloatArray
from labtests.domain.curves.curve_draws import Response, response_of_curves, response_of_readings
from labtests.domain.curves.curves import Points
from labtests.domain.scores.scoring import SCORES, Scores
from labtests.domain.uncertainty.monte_carlo import (
    Drawn,
    Inputs,
    Normal,
    Rectangular,
    ScaledT,
    Simulated,
    simulate_scores,
)
from labtests.domain.uncertainty.propagation import POINTS, Budget, BudgetRow
from labtests.domain.uncertainty.reading_squares import squares_of_scores
from labtests.models import BenchTest, Branch, CurveKind, Result

# Gives the ends of an interval to about 0.5 % of its width and takes less than half a second.
DRAWS = 200_000
KEPT_SECONDS = 24 * 3600
LEVEL = 0.9545
"""Of the intervals: what k = 2 means."""
QUANTITIES = ("torque", "angle", "displacement", "force")
# Sources that act on curves or readings by name; every other row of a budget acts in a straight line.
CONTACT = "force, calibration at the contact"
CALIBRATED = frozenset({f"{name}, {part}" for name in QUANTITIES for part in ("calibration", "resolution")} | {CONTACT})
CURVE_NOISE = "noise of the curve"
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
    """Each score by both ways; empty where the uncertainty is not known. A result never changes, so it is remembered.

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
    k = coverage_factor(getattr(result, f"{name}_df"))
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
    df = math.inf if result.repeats_df is None else result.repeats_df
    inputs = Inputs(np.array(means), _covariance(result), df, _errors(rows), _others(budgets))
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


def _errors(rows: Mapping[str, BudgetRow]) -> dict[str, list[Drawn]]:
    errors: dict[str, list[Drawn]] = {
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


def _covariance(result: Result) -> FloatArray:
    """What repeats leave in the three means, from what they leave in the scores; shape (3, 3)."""
    left = Scores(**{name: np.array([getattr(result, f"{name}_u_a")]) for name in SCORES})
    torque2, deflection2, work2, product = squares_of_scores(left, result.scoring_model.to_domain())[0].tolist()
    # That deflection and work of a repeat go together moves no score by itself.
    return np.array([[torque2, product, 0.0], [product, deflection2, 0.0], [0.0, 0.0, work2]])


def _others(budgets: Mapping[str, Budget]) -> list[tuple[Drawn, dict[str, float]]]:
    """Every row that is neither the repeats' nor an error of a curve, with what it does to each score."""
    acts: dict[str, dict[str, float]] = {}
    drawn: dict[str, Drawn] = {}
    for name, budget in budgets.items():
        for place, row in enumerate(budget.rows):
            if row.source not in CALIBRATED and not _is_of_repeats(row, place):
                acts.setdefault(row.source, {})[name] = row.contribution if row.unit == POINTS else row.sensitivity
                drawn[row.source] = _drawn(row)
    return [(drawn[source], acts[source]) for source in acts]


def _is_of_repeats(row: BudgetRow, place: int) -> bool:
    """The repeats open each budget and are drawn together, as a covariance; earlier budgets had a row a reading."""
    is_earlier = row.type_ == "A" and row.unit != POINTS and CURVE_NOISE not in row.source
    return is_earlier or (place == 0 and row.unit == POINTS)


def _drawn(row: BudgetRow) -> Drawn:
    """How a source is drawn; one in points differs from score to score, so that it is drawn by the unit."""
    u = 1.0 if row.unit == POINTS else row.u
    if row.source.startswith(EVEN):
        return _even(u)
    return ScaledT(u, row.df) if row.type_ == "A" and math.isfinite(row.df) else Normal(0.0, u)
