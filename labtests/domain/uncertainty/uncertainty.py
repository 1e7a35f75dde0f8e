"""Uncertainty of the four scores of a test (GUM)."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

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
    Sensitivities,
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
    `type_b` the rest, which all tests on a rig share; `df` are the effective degrees of freedom of u.
    """

    u: float
    type_a: float
    setup: float
    type_b: float
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


@dataclass(frozen=True, slots=True)
class UncertaintySources:
    """What the uncertainty of a test comes from.

    `evaluation` has torque, deflection and work read. `scatter` is that of single repeats, divided here by the number
    of repeats. `calibrations` are those of the rig on the test day: torque, displacement, angle and force enter;
    temperature has no known coefficient. `effects` are what else acts on the readings, each independent of the others.
    `setups` are what the day and the set-up add to a whole test, however many repeats it has.
    """

    evaluation: Evaluation
    scatter: Scatter | None
    calibrations: tuple[Calibration, ...]
    effects: tuple[Effect, ...] = ()
    setups: tuple[Scatter, ...] = ()


def uncertainties_of_tests(
    tests: Sequence[UncertaintySources], *, model: Model, target: Target = STANDARD
) -> list[ScoreUncertainties | None]:
    """Uncertainties of the four scores of many tests.

    Parameters
    ----------
    tests : sequence of UncertaintySources
        Each test by itself.
    model : Model
        The scoring model.
    target : Target
        What the protocol reads the curves at.

    Returns
    -------
    list of ScoreUncertainties or None
        For each test; None where it cannot be known: nothing read, no scatter, or a calibration missing.

    Notes
    -----
    Torque, deflection and work of a repeat go together: what they add to a score is worked out from their full
    covariance and has one row, in points. Where a certificate has points, zero, gain and linearity are added to the
    uncertainty of its standard (`calibration_fit`). Angle and force errors act through the slopes of the curves at
    their marks; without curves through torque/15° and deflection/force. A displacement error scales deflection and
    work alike.

    Tests with equally many sources are worked out in the same arrays.

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
    >>> known = tuple(Calibration(name, 0.01, 0.01) for name in ("torque", "displacement", "angle", "force"))
    >>> test = UncertaintySources(evaluation, scatter_of_repeats(repeats), known)
    >>> uncertainties_of_tests([test], model=S1)[0].scores["stability"].u < 0.5
    True
    """
    found: list[ScoreUncertainties | None] = [None] * len(tests)
    complete = [(place, one) for place, sources in enumerate(tests) if (one := _complete(sources, target)) is not None]
    groups: dict[tuple[int, int], list[tuple[int, _Complete]]] = defaultdict(list)
    for place, one in complete:
        groups[len(one.scatters), len(one.effects)].append((place, one))
    for group in groups.values():
        results = _propagated([one for _, one in group], model)
        for (place, _), result in zip(group, results, strict=True):
            found[place] = result
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Complete:
    """A test of which all that its uncertainty comes from is known.

    `scatters` are those of the repeats, then of the day and the set-up; `counts` are how many repeats gave torque,
    deflection and work. `acting` are the changes of these three by one unit of each quantity of `UNITS`.
    """

    scatters: tuple[Scatter, ...]
    counts: tuple[int, int, int]
    type_b: tuple[Component, ...]
    acting: tuple[Sensitivities, ...]
    effects: tuple[Effect, ...]

    def components(self, of_scores: Sequence[Sequence[float]]) -> tuple[Component, ...]:
        """All sources; `of_scores` are the standard uncertainties of the scores by each scatter, in points.

        The readings of a repeat scatter together, so that no reading has a row of its own.
        """
        joint = (
            Component(scatter.origin, "A", u, POINTS, scatter.df, link=scatter.link)
            for scatter, us in zip(self.scatters, of_scores, strict=True)
            for u in us
        )
        return (*joint, *self.type_b, *(effect.component for effect in self.effects))


def _complete(sources: UncertaintySources, target: Target) -> _Complete | None:
    evaluation = sources.evaluation
    torque, deflection, work = evaluation.torque_15_nm, evaluation.deflection_mm, evaluation.work_j
    type_b = _type_b(sources.calibrations)
    if torque is None or deflection is None or work is None or sources.scatter is None or type_b is None:
        return None
    acting = _acting(deflection.mean, work.mean, slopes=slopes_of(evaluation, target), target=target)
    fits = {item.quantity: (item.fit, item.number) for item in sources.calibrations if item.fit is not None}
    fitted = calibration_effects(fits, dict(zip(UNITS, acting, strict=True)), evaluation, target) if fits else ()
    return _Complete(
        scatters=(sources.scatter, *sources.setups),
        counts=(torque.n, deflection.n, work.n),
        type_b=type_b,
        acting=acting,
        effects=(*fitted, *sources.effects),
    )


def _propagated(tests: Sequence[_Complete], model: Model) -> list[ScoreUncertainties]:
    """Uncertainties of n tests that have equally many sources, worked out in the same arrays.

    One by one takes five times as long (200 and 40 µs a test): the arrays of a test are so small.
    """
    to_scores = _score_sensitivities(model)
    joint = combined_covariance(to_scores, _joint_covariances(tests))
    joint_u = np.sqrt(np.maximum(joint.diagonal(axis1=2, axis2=3), 0.0))
    components = [one.components(of_scores) for one, of_scores in zip(tests, joint_u.tolist(), strict=True)]
    u, df = (np.array([[getattr(part, name) for part in parts] for parts in components]) for name in ("u", "df"))
    rest = to_scores @ _acting_on_readings(tests)
    sensitivities = np.concatenate([_own_points(joint), rest], axis=2)
    given = contributions(sensitivities, u[:, np.newaxis])
    setups = np.array([[setup.df for setup in one.scatters[1:]] for one in tests])
    return [
        ScoreUncertainties(scores, correlation, repeats_df=one.scatters[0].df, setup_df=setup_df)
        for one, scores, correlation, setup_df in zip(
            tests,
            _by_score(components, sensitivities, given, df, joint=joint.shape[1]),
            _correlations(joint, rest, u[:, -rest.shape[2] :], given),
            # Degrees of freedom of several set-up parts together, as stability feels them.
            effective_dfs(joint_u[:, 1:, 0], setups).tolist(),
            strict=True,
        )
    ]


def _joint_covariances(tests: Sequence[_Complete]) -> FloatArray:
    """Covariances of torque, deflection and work by each scatter, shape (n, scatters, 3, 3).

    Those of the repeats are of their means; means of fewer repeats are among those of more.
    """
    covariances = np.array([[scatter.covariance() for scatter in one.scatters] for one in tests])
    counts = np.array([one.counts for one in tests], dtype=np.float64)
    covariances[:, 0] /= np.maximum(counts[:, :, np.newaxis], counts[:, np.newaxis])
    return covariances


def _acting_on_readings(tests: Sequence[_Complete]) -> FloatArray:
    """Changes of torque, deflection and work by one unit of each calibration and effect, shape (n, 3, sources)."""
    # A calibration and its resolution act alike.
    calibrations = np.repeat([one.acting for one in tests], 2, axis=1)
    effects = np.array([[effect.sensitivities for effect in one.effects] for one in tests])
    return np.concatenate([calibrations, effects.reshape(len(tests), -1, len(READINGS))], axis=1).swapaxes(1, 2)


def _own_points(joint: FloatArray) -> FloatArray:
    """Sensitivities of the scores to what a scatter adds to each of them, in points, shape (n, 4, 4 scatters)."""
    n, scatters, scores, _ = joint.shape
    return np.broadcast_to(np.tile(np.eye(scores), scatters), (n, scores, scores * scatters))


def _correlations(joint: FloatArray, rest: FloatArray, u: FloatArray, given: FloatArray) -> list[float]:
    """Correlation of rearfoot and cushioning, 0 where one of them is exact; all but the scatters are independent."""
    covariance = joint[:, :, 2, 3].sum(axis=1) + (rest[:, 2] * rest[:, 3] * u**2).sum(axis=1)
    spread = np.sqrt((given[:, 2:] ** 2).sum(axis=2).prod(axis=1))
    found: list[float] = np.divide(covariance, spread, out=np.zeros_like(spread), where=spread > 0.0).tolist()
    return found


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


def _acting(deflection_mm: float, work_j: float, *, slopes: Slopes, target: Target) -> tuple[Sensitivities, ...]:
    """Partial derivatives of torque, deflection and work by each quantity of `UNITS`."""
    # A relative force error e moves the end of the curve and scales every ordinate the other way (-W·e).
    work_by_force = target.force_n * slopes.end_mm_n / MJ_PER_J - work_j / target.force_n
    return (
        (1.0, 0.0, 0.0),
        (slopes.torque_nm_deg, 0.0, 0.0),
        (0.0, 1.0, work_j / deflection_mm),
        (0.0, slopes.end_mm_n, work_by_force),
    )


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


def _by_score(
    components: Sequence[Sequence[Component]],
    sensitivities: FloatArray,
    given: FloatArray,
    df: FloatArray,
    *,
    joint: int,
) -> Iterator[dict[str, ScoreUncertainty]]:
    """Uncertainties of each test's scores; the first `joint` groups of components are the repeats and the set-ups."""
    squares, of_setups = given**2, joint * len(SCORES)
    cuts = [0, len(SCORES), of_setups, given.shape[2]]
    parts = [squares[:, :, start:end].sum(axis=2) for start, end in itertools.pairwise(cuts)]
    columns = np.stack([np.sqrt(sum(parts)), *map(np.sqrt, parts), effective_dfs(given, df[:, np.newaxis])], axis=2)
    for its_parts, rows, weights in zip(components, columns.tolist(), sensitivities.tolist(), strict=True):
        yield {
            name: ScoreUncertainty(u, a, setup, b, dfs, BudgetTable(its_parts, weights_of_score))
            for name, (u, a, setup, b, dfs), weights_of_score in zip(SCORES, rows, weights, strict=True)
        }
