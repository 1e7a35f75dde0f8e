"""Uncertainty of the four scores of a test, and of a shoe from its specimens (GUM)."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.scores.calibration_fit import CalibrationFit, calibration_effects
from labtests.domain.scores.curves import MJ_PER_J, STANDARD, Target
from labtests.domain.scores.effects import Slopes, slopes_of
from labtests.domain.scores.evaluation import Evaluation, Repeat
from labtests.domain.scores.propagation import (
    BudgetTable,
    Component,
    Effect,
    combined_covariance,
    contributions,
    effective_dfs,
    pooled_variance,
    rectangular_u,
)
from labtests.domain.scores.scoring import SCORES, Model

COVERAGE_FACTOR = 2.0
REPEATS_FOR_OWN_TYPE_A = 3
READINGS = ("torque", "deflection", "work")
UNITS = {"torque": "N·m", "angle": "°", "displacement": "mm", "force": "N"}


@dataclass(frozen=True, slots=True)
class Calibration:
    """What a calibration says about one quantity, in its kept unit; `number` is its record, None where it has none.

    `fit` is what the points of its certificate say; None where it has too few.
    """

    quantity: str
    standard_uncertainty: float
    resolution: float
    df: float = math.inf
    number: int | None = None
    fit: CalibrationFit | None = None


@dataclass(frozen=True, slots=True)
class Scatter:
    """Variance and covariance of single repeats about their test's mean, and the degrees of freedom behind them."""

    torque_nm2: float
    deflection_mm2: float
    work_j2: float
    deflection_work: float
    df: float
    origin: str


@dataclass(frozen=True, slots=True)
class ScoreUncertainty:
    """Standard uncertainty of one score; `type_a` and `type_b` are its two parts, `expanded` = 2 u."""

    u: float
    type_a: float
    type_b: float
    expanded: float
    df: float
    budget: BudgetTable


@dataclass(frozen=True, slots=True)
class ScoreUncertainties:
    """The four scores' uncertainties, and the correlation of rearfoot and cushioning, which share a curve."""

    scores: Mapping[str, ScoreUncertainty]
    correlation_rearfoot_cushioning: float


@dataclass(frozen=True, slots=True)
class SpecimenScore:
    """One specimen's score and the two parts of its standard uncertainty."""

    value: float
    type_a: float | None
    type_b: float | None


@dataclass(frozen=True, slots=True)
class ShoeScore:
    """A shoe's score: the mean over specimens, u and its parts (None where unknown)."""

    value: float
    specimens: int
    u: float | None
    within: float | None
    between: float | None
    common: float | None


def scatter_of_repeats(repeats: Sequence[Repeat]) -> Scatter | None:
    """Scatter of the repeats that gave everything; None below two of them.

    Examples
    --------
    >>> repeats = [Repeat(1, 4.0, 0.0, 6.0, 0.0, 1.0), Repeat(2, 6.0, 0.0, 8.0, 0.0, 2.0)]
    >>> scatter_of_repeats(repeats).torque_nm2
    2.0
    """
    rows = [(repeat.torque_15_nm, repeat.deflection_mm, repeat.work_j) for repeat in repeats]
    full = np.array([row for row in rows if None not in row], dtype=float).reshape(-1, len(READINGS))
    if len(full) < 2:
        return None
    apart = full - full.mean(axis=0)
    v = apart.T @ apart / (len(full) - 1.0)
    return Scatter(float(v[0, 0]), float(v[1, 1]), float(v[2, 2]), float(v[1, 2]), len(full) - 1.0, "repeats")


def pool_scatter(scatters: Sequence[Scatter]) -> Scatter | None:
    """Pool the scatter of many tests of a rig, weighted by degrees of freedom; None without any.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4.4.

    Examples
    --------
    >>> one, two = Scatter(1.0, 1.0, 1.0, 0.0, 1.0, "repeats"), Scatter(4.0, 4.0, 4.0, 0.0, 2.0, "repeats")
    >>> pool_scatter([one, two]).torque_nm2
    3.0
    """
    if not scatters:
        return None
    dfs = [scatter.df for scatter in scatters]

    def pooled(name: str) -> float:
        return pooled_variance([getattr(scatter, name) * scatter.df for scatter in scatters], dfs)

    return Scatter(
        torque_nm2=pooled("torque_nm2"),
        deflection_mm2=pooled("deflection_mm2"),
        work_j2=pooled("work_j2"),
        deflection_work=pooled("deflection_work"),
        df=sum(dfs),
        origin="pooled history of the rig",
    )


def choose_scatter(evaluation: Evaluation, pooled: Scatter | None) -> Scatter | None:
    """Take the test's own scatter from 3 repeats up, the rig's pooled history below; None where neither exists."""
    own = scatter_of_repeats(evaluation.repeats)
    if own is not None and own.df + 1.0 >= REPEATS_FOR_OWN_TYPE_A:
        return own
    return pooled


def uncertainty_of_test(
    evaluation: Evaluation,
    scatter: Scatter | None,
    calibrations: Sequence[Calibration],
    *,
    model: Model,
    target: Target = STANDARD,
    effects: Sequence[Effect] = (),
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

    Returns
    -------
    ScoreUncertainties or None
        None where it cannot be known: no scatter, or a calibration missing.

    Notes
    -----
    Where a certificate has points, zero, gain and linearity are added to the uncertainty of its standard
    (`calibration_fit`). Angle and force errors act through the slopes of the curves at their marks; without curves
    through torque/15° and deflection/force. A displacement error scales deflection and work alike.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.2, 4.3, 5.1, 5.2.

    Examples
    --------
    >>> from labtests.domain.scores.evaluation import Summary
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
    # A calibration and its resolution have a column each, behind those of the repeats.
    by_quantity = dict(zip(UNITS, direct.T[len(READINGS) :: 2].tolist(), strict=True))
    fits = {item.quantity: (item.fit, item.number) for item in calibrations if item.fit is not None}
    effects = (*calibration_effects(fits, by_quantity, evaluation, target), *effects)
    components = (*_type_a(evaluation, scatter), *known, *(effect.component for effect in effects))
    of_effects = np.array([effect.sensitivities for effect in effects]).reshape(-1, len(READINGS)).T
    to_readings = np.hstack([direct, of_effects])
    to_scores = _score_sensitivities(model) @ to_readings
    covariance = np.diag([component.u**2 for component in components])
    covariance[1, 2] = covariance[2, 1] = scatter.deflection_work / deflection.n
    outputs = combined_covariance(to_scores, covariance)
    return ScoreUncertainties(_score_uncertainties(components, to_scores), _correlation(outputs, 2, 3))


def combine_specimens(specimens: Sequence[SpecimenScore]) -> ShoeScore:
    """A shoe's score from its specimens.

    Parameters
    ----------
    specimens : sequence of SpecimenScore
        n ≥ 1.

    Returns
    -------
    ShoeScore
        The mean; u² = within² + between² + common². Within is what repeats leave in the mean, between what
        specimens add to it (0 where they differ no more than repeats explain), common the calibrations', which all
        specimens share and which no averaging makes smaller.

    Notes
    -----
    With n = 1 the between part cannot be known: `between` is None, u holds the other two and the score is provisional.

    References
    ----------
    .. [1] One-way random effects, between variance = variance of means - within/n, not below 0: ISO 5725-2:1994, 7.4.5
       (from memory).

    Examples
    --------
    >>> shoe = combine_specimens([SpecimenScore(50.0, 1.0, 0.5), SpecimenScore(54.0, 1.0, 0.5)])
    >>> shoe.value, round(shoe.u, 3)
    (52.0, 2.062)
    """
    n = len(specimens)
    if n == 0:
        raise ValueError("specimens must be ≥ 1, got 0")
    values = np.array([specimen.value for specimen in specimens])
    value = float(values.mean())
    type_a = [specimen.type_a for specimen in specimens if specimen.type_a is not None]
    type_b = [specimen.type_b for specimen in specimens if specimen.type_b is not None]
    if len(type_a) < n or len(type_b) < n:
        return ShoeScore(value, n, None, None, None, None)
    within2 = float(np.mean(np.square(type_a))) / n
    common = max(type_b)
    between2 = max(0.0, float(values.var(ddof=1)) / n - within2) if n > 1 else None
    u = math.sqrt(within2 + (between2 or 0.0) + common**2)
    return ShoeScore(value, n, u, math.sqrt(within2), None if between2 is None else math.sqrt(between2), common)


def _type_a(evaluation: Evaluation, scatter: Scatter) -> tuple[Component, ...]:
    variances = (scatter.torque_nm2, scatter.deflection_mm2, scatter.work_j2)
    summaries = (evaluation.torque_15_nm, evaluation.deflection_mm, evaluation.work_j)
    units = ("N·m", "mm", "J")
    return tuple(
        Component(f"{name}, {scatter.origin}", "A", math.sqrt(variance / summary.n), unit, scatter.df)
        for name, variance, summary, unit in zip(READINGS, variances, summaries, units, strict=True)
        if summary is not None
    )


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
    """Partial derivatives of (torque, deflection, work) by the components in their order, shape (3, 11)."""
    work_by_displacement = work_j / deflection_mm
    # A relative force error e moves the end of the curve and scales every ordinate the other way (-W·e).
    work_by_force = target.force_n * slopes.end_mm_n / MJ_PER_J - work_j / target.force_n
    columns = (
        *((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)),
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


def _score_uncertainties(components: Sequence[Component], sensitivities: FloatArray) -> dict[str, ScoreUncertainty]:
    """Uncertainties of the scores in the order of the rows of `sensitivities`."""
    given = contributions(components, sensitivities)
    squares, is_a = given**2, np.array([part.type_ == "A" for part in components])
    a2, b2 = squares[:, is_a].sum(axis=1).tolist(), squares[:, ~is_a].sum(axis=1).tolist()
    dfs = effective_dfs(components, given).tolist()
    tables = (BudgetTable(components, row) for row in sensitivities.tolist())
    every = zip(SCORES, a2, b2, dfs, tables, strict=True)
    return {name: _score_uncertainty(a, b, df, table) for name, a, b, df, table in every}


def _score_uncertainty(a2: float, b2: float, df: float, table: BudgetTable) -> ScoreUncertainty:
    u = math.sqrt(a2 + b2)
    return ScoreUncertainty(u, math.sqrt(a2), math.sqrt(b2), COVERAGE_FACTOR * u, df, table)


def _correlation(covariance: FloatArray, first: int, second: int) -> float:
    spread = math.sqrt(covariance[first, first] * covariance[second, second])
    return float(covariance[first, second] / spread) if spread > 0.0 else 0.0
