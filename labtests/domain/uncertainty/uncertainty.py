"""Uncertainty of the four scores of a test (GUM)."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from core.domain.coverage import coverage_factor
from core.domain.units import FloatArray
from labtests.domain.conditions.calibration_fit import CalibrationFit, calibration_effects
from labtests.domain.curves.curves import MJ_PER_J, STANDARD, Target
from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.scores.scoring import SCORES, Model
from labtests.domain.uncertainty.curve_effects import Slopes, slopes_of
from labtests.domain.uncertainty.propagation import (
    POINTS,
    BudgetTable,
    Component,
    Effect,
    combined_covariance,
    contributions,
    effective_dfs,
    rectangular_u,
)
from labtests.domain.uncertainty.scatter import READINGS, Scatter

UNITS = {"torque": "N·m", "angle": "°", "displacement": "mm", "force": "N"}


@dataclass(frozen=True, slots=True)
class Calibration:
    """What a calibration says about one quantity, in its stored unit; `number` is its record, None where it has none.

    `fit` is what the points of its certificate say; None where it has too few.
    """

    quantity: str
    standard_uncertainty: float
    resolution: float
    df: float = math.inf
    number: int | None = None
    fit: CalibrationFit | None = None


@dataclass(frozen=True, slots=True)
class ScoreUncertainty:
    """Standard uncertainty of one score and its parts: u² = type_a² + setup² + type_b².

    `type_a` is what repeats leave in their mean, `setup` the day and the set-up (0 where nothing is known of them),
    `type_b` the rest, which all tests on a rig share; `expanded` = k u with k by `df`.
    """

    u: float
    type_a: float
    setup: float
    type_b: float
    expanded: float
    df: float
    budget: BudgetTable


@dataclass(frozen=True, slots=True)
class ScoreUncertainties:
    """The four scores' uncertainties, and the correlation of rearfoot and cushioning, which share a curve.

    `repeats_df` and `setup_df` are the degrees of freedom behind those two parts (inf where there is no such part).
    """

    scores: Mapping[str, ScoreUncertainty]
    correlation_rearfoot_cushioning: float
    repeats_df: float
    setup_df: float


def uncertainty_of_test(
    evaluation: Evaluation,
    scatter: Scatter | None,
    calibrations: Sequence[Calibration],
    *,
    model: Model,
    target: Target = STANDARD,
    effects: Sequence[Effect] = (),
    setups: Sequence[Scatter] = (),
) -> ScoreUncertainties | None:
    """Uncertainty of a test's four scores.

    Parameters
    ----------
    evaluation : Evaluation
        With torque and deflection read.
    scatter : Scatter or None
        Of single repeats; divided here by the number of repeats.
    calibrations : sequence of Calibration
        Of the rig on the test day; torque, displacement, angle and force enter, temperature has no known coefficient.
    model : Model
        The scoring model.
    target : Target
        What the protocol reads the curves at.
    effects : sequence of Effect
        What else acts on the readings, each independent of the others.
    setups : sequence of Scatter
        What the day and the set-up add to a whole test, however many repeats it has.

    Returns
    -------
    ScoreUncertainties or None
        None where it cannot be known: no scatter, or a calibration missing.

    Notes
    -----
    Torque, deflection and work of a repeat go together: what they add to a score is worked out from their full
    covariance and has one row, in points. Where a certificate has points, zero, gain and linearity are added to the
    uncertainty of its standard (`calibration_fit`). Angle and force errors act through the slopes of the curves at
    their marks; without curves through torque/15° and deflection/force. A displacement error scales deflection and
    work alike.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.2, 4.3, 5.1, 5.2.

    Examples
    --------
    >>> from labtests.domain.scores.evaluation import Repeat, Summary
    >>> from labtests.domain.uncertainty.scatter import scatter_of_repeats
    >>> from labtests.domain.scores.scoring import S1
    >>> repeats = tuple(Repeat(n, 5.1 + n / 100, 0.0, 5.9, 0.0, 1.3) for n in (1, 2, 3))
    >>> means = Summary(3, 5.12, 0.01), Summary(3, 5.9, 0.0), Summary(3, 1.3, 0.0)
    >>> evaluation = Evaluation(repeats, *means, None, False, ())
    >>> known = [Calibration(name, 0.01, 0.01) for name in ("torque", "displacement", "angle", "force")]
    >>> uncertainty_of_test(evaluation, scatter_of_repeats(repeats), known, model=S1).scores["stability"].expanded < 1.0
    True
    """
    torque, deflection, work = evaluation.torque_15_nm, evaluation.deflection_mm, evaluation.work_j
    if torque is None or deflection is None or work is None:
        return None
    known = _type_b(tuple(calibrations))
    if scatter is None or known is None:
        return None
    slopes = slopes_of(evaluation, target)
    direct = _reading_sensitivities(deflection.mean, work.mean, slopes=slopes, target=target)
    # A calibration and its resolution have a column each.
    by_quantity = dict(zip(UNITS, direct.T[::2].tolist(), strict=True))
    fits = {item.quantity: (item.fit, item.number) for item in calibrations if item.fit is not None}
    effects = (*calibration_effects(fits, by_quantity, evaluation, target), *effects)
    joint = [_mean_covariance(evaluation, scatter), *(setup.covariance() for setup in setups)]
    of_scores = [combined_covariance(_score_sensitivities(model), covariance) for covariance in joint]
    components = (
        *(part for found, of in zip((scatter, *setups), of_scores, strict=True) for part in _joint_parts(found, of)),
        *known,
        *(effect.component for effect in effects),
    )
    of_effects = np.array([effect.sensitivities for effect in effects]).reshape(-1, len(READINGS)).T
    to_scores = _score_sensitivities(model) @ np.concatenate([direct, of_effects], axis=1)
    # The rest are independent of each other: their covariance is a diagonal.
    variances = np.array([part.u**2 for part in (*known, *(effect.component for effect in effects))])
    outputs = (to_scores * variances) @ to_scores.T + sum(of_scores)
    to_points = np.concatenate([*[np.eye(len(SCORES))] * len(joint), to_scores], axis=1)
    return ScoreUncertainties(
        _score_uncertainties(components, to_points, joint=len(joint)),
        _correlation(outputs, 2, 3),
        repeats_df=scatter.df,
        setup_df=_df_of_stability([setup.df for setup in setups], of_scores[1:]),
    )


def _mean_covariance(evaluation: Evaluation, scatter: Scatter) -> FloatArray:
    """Covariance of the means of the repeats; those that are fewer are among those that are more."""
    summaries = (evaluation.torque_15_nm, evaluation.deflection_mm, evaluation.work_j)
    n = np.array([summary.n if summary else 1 for summary in summaries], dtype=np.float64)
    return scatter.covariance() / np.maximum.outer(n, n)


def _joint_parts(scatter: Scatter, of_scores: FloatArray) -> list[Component]:
    """A component for each score, in points: its readings scatter together, so that no reading has a row of its own."""
    variances = np.maximum(np.diag(of_scores), 0.0).tolist()
    return [
        Component(scatter.origin, "A", math.sqrt(variance), POINTS, scatter.df, link=scatter.link)
        for variance in variances
    ]


def _df_of_stability(dfs: Sequence[float], of_scores: Sequence[FloatArray]) -> float:
    """Degrees of freedom of several set-up parts together, as stability feels them; inf without any."""
    variances = [float(covariance[0, 0]) for covariance in of_scores]
    below = sum(variance**2 / df for variance, df in zip(variances, dfs, strict=True))
    return sum(variances) ** 2 / below if below > 0.0 else math.inf


@lru_cache(64)
def _type_b(calibrations: tuple[Calibration, ...]) -> tuple[Component, ...] | None:
    """What calibrations leave open; None where one is missing. Of a rig on a day it is the same for every test."""
    by_quantity = {calibration.quantity: calibration for calibration in calibrations}
    if not by_quantity.keys() >= UNITS.keys():
        return None
    parts: list[Component] = []
    for quantity, unit in UNITS.items():
        calibration = by_quantity[quantity]
        number = calibration.number
        name = f"{quantity}, calibration" if calibration.fit is None else f"{quantity}, calibration: standard"
        parts += [
            Component(name, "B", calibration.standard_uncertainty, unit, calibration.df, number),
            Component(f"{quantity}, resolution", "B", rectangular_u(calibration.resolution), unit, calibration=number),
        ]
    return tuple(parts)


def _reading_sensitivities(deflection_mm: float, work_j: float, *, slopes: Slopes, target: Target) -> FloatArray:
    """Partial derivatives of (torque, deflection, work) by what `_type_b` lists, shape (3, 8)."""
    work_by_displacement = work_j / deflection_mm
    # A relative force error e moves the end of the curve and scales every ordinate the other way (-W·e).
    work_by_force = target.force_n * slopes.end_mm_n / MJ_PER_J - work_j / target.force_n
    columns = (
        *((1.0, 0.0, 0.0),) * 2,
        *((slopes.torque_nm_deg, 0.0, 0.0),) * 2,
        *((0.0, 1.0, work_by_displacement),) * 2,
        *((0.0, slopes.end_mm_n, work_by_force),) * 2,
    )
    return np.array(columns).T


@lru_cache(8)
def _score_sensitivities(model: Model) -> FloatArray:
    """Partial derivatives of the four scores, in the order of `SCORES`, by (torque, deflection, work)."""
    midfoot = 100.0 / (model.torque_100_nm - model.torque_0_nm)
    rearfoot = 100.0 / (model.deflection_100_mm - model.deflection_0_mm)
    cushioning = 100.0 / (model.work_100_j - model.work_0_j)
    return np.array(
        [
            [model.weight_midfoot * midfoot, model.weight_rearfoot * rearfoot, 0.0],
            [midfoot, 0.0, 0.0],
            [0.0, rearfoot, 0.0],
            [0.0, 0.0, cushioning],
        ]
    )


def _score_uncertainties(
    components: Sequence[Component], sensitivities: FloatArray, *, joint: int
) -> dict[str, ScoreUncertainty]:
    """Uncertainties of the scores in the order of the rows of `sensitivities`.

    The first `joint` groups of components, one of each score, are the repeats and then the day and the set-up.
    """
    given = contributions(components, sensitivities)
    squares, of_setups = given**2, joint * len(SCORES)
    cuts = [0, len(SCORES), of_setups, len(components)]
    parts = [squares[:, start:end].sum(axis=1).tolist() for start, end in itertools.pairwise(cuts)]
    dfs = effective_dfs(components, given).tolist()
    tables = (BudgetTable(components, row) for row in sensitivities.tolist())
    every = zip(SCORES, *parts, dfs, tables, strict=True)
    return {name: _score_uncertainty((a, setup, b), df, table) for name, a, setup, b, df, table in every}


def _score_uncertainty(squares: tuple[float, float, float], df: float, table: BudgetTable) -> ScoreUncertainty:
    u = math.sqrt(math.fsum(squares))
    type_a, setup, type_b = (math.sqrt(square) for square in squares)
    return ScoreUncertainty(u, type_a, setup, type_b, coverage_factor(df) * u, df, table)


def _correlation(covariance: FloatArray, first: int, second: int) -> float:
    spread = math.sqrt(covariance[first, first] * covariance[second, second])
    return float(covariance[first, second] / spread) if spread > 0.0 else 0.0
