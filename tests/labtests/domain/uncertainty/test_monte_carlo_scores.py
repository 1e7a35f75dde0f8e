"""The first-order uncertainty of scores against Monte Carlo: from readings, and from whole curves."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from scipy.stats import t

from labtests.domain.curves.curve_draws import response_of_curves, response_of_readings
from labtests.domain.curves.curves import TARGET_FORCE_N, Target
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores.evaluation import Evaluation, Repeat, evaluate_curves, summarise
from labtests.domain.scores.scoring import S1, SCORES, score
from labtests.domain.uncertainty.curve_effects import contact_effect, reading_effects
from labtests.domain.uncertainty.monte_carlo import Inputs, Normal, Rectangular, simulate_scores
from labtests.domain.uncertainty.scatter import Scatter, scatter_of_repeats
from labtests.domain.uncertainty.uncertainty import Calibration
from tests.reference.one_test import uncertainty_of_test

KNOWN = [
    Calibration("torque", 0.02, 0.05),
    Calibration("angle", 0.05, 0.1),
    Calibration("displacement", 0.02, 0.05),
    Calibration("force", 0.8, 0.5),
    Calibration("temperature", 0.1, 0.1),
]
WITHIN = 0.02
"""The two ways of working out u agree within 2 %."""


def evaluation_of(rows):
    repeats = tuple(Repeat(n, torque_15_nm=t, deflection_mm=d, work_j=w) for n, (t, d, w) in enumerate(rows, start=1))
    columns = [[row[index] for row in rows] for index in range(3)]
    return Evaluation(repeats, *(summarise(column) for column in columns), None, False, ())


SOFT = [(2.02, 8.8, 1.80), (2.06, 8.9, 1.85), (2.04, 8.86, 1.82)]
MIDDLE = [(5.10, 5.90, 1.50), (5.14, 5.96, 1.52), (5.12, 5.93, 1.51)]
STIFF = [(8.1, 4.2, 0.95), (8.3, 4.3, 0.99), (8.2, 4.22, 0.96), (8.25, 4.27, 0.97)]


def inputs_of(evaluation, scatter, calibrations):
    """What a budget of these has, as distributions: calibrations normal, resolutions rectangular."""
    known = {each.quantity: each for each in calibrations}
    errors = {
        name: (Normal(0.0, known[name].standard_uncertainty), Rectangular(0.0, known[name].resolution / 2.0))
        for name in ("torque", "angle", "displacement", "force")
    }
    means = [summary.mean for summary in (evaluation.torque_15_nm, evaluation.deflection_mm, evaluation.work_j)]
    return Inputs(np.array(means), scatter.covariance() / evaluation.torque_15_nm.n, scatter.df, errors)


def simulated_of(evaluation, scatter, calibrations, *, seed, draws=200_000):
    inputs = inputs_of(evaluation, scatter, calibrations)
    response = response_of_readings(*inputs.means.tolist(), target=Target())
    return simulate_scores(response, inputs, model=S1, draws=draws, rng=np.random.default_rng(seed))


@pytest.mark.parametrize("rows", [SOFT, MIDDLE, STIFF])
@pytest.mark.parametrize("seed", [1, 2])
def test_first_order_agrees_with_monte_carlo_of_many_repeats(rows, seed):
    evaluation = evaluation_of(rows)
    scatter = dataclasses.replace(scatter_of_repeats(evaluation.repeats), df=math.inf)
    first_order = uncertainty_of_test(evaluation, scatter, KNOWN, model=S1)
    simulated = simulated_of(evaluation, scatter, KNOWN, seed=seed)
    for name in SCORES:
        assert simulated[name].u == pytest.approx(first_order.scores[name].u, rel=WITHIN), name
        value = getattr(score(*(np.mean([row[i] for row in rows]) for i in range(3)), model=S1), name)
        assert simulated[name].mean == pytest.approx(value, abs=0.02 * simulated[name].u)
    # Nearly normal: normal draws know nothing of degrees of freedom, so that k = 2 holds 95 % of them.
    stability = simulated["stability"]
    assert stability.high - stability.low == pytest.approx(4 * first_order.scores["stability"].u, rel=0.03)


def test_few_repeats_are_drawn_from_a_t_distribution():
    """Where the repeats are all there is, the interval is that of Student's t, which u would not show."""
    evaluation = evaluation_of(MIDDLE)
    scatter = scatter_of_repeats(evaluation.repeats)
    exact = [Calibration(each.quantity, 0.0, 0.0) for each in KNOWN]
    simulated = simulated_of(evaluation, scatter, exact, seed=5)
    first_order = uncertainty_of_test(evaluation, scatter, exact, model=S1)
    for name in ("midfoot", "rearfoot", "cushioning"):
        wanted = t.ppf(0.975, 2) * first_order.scores[name].u
        assert simulated[name].half_width == pytest.approx(wanted, rel=0.03), name


@pytest.mark.parametrize("quantity", ["torque", "angle", "displacement", "force"])
def test_each_calibration_alone_agrees(quantity):
    """One large source at a time, so that no other hides a wrong derivative."""
    alone = [Calibration(each.quantity, 0.0, 0.0) for each in KNOWN if each.quantity != quantity]
    alone.append(Calibration(quantity, 0.05, 0.05))
    evaluation, nothing = evaluation_of([MIDDLE[0]] * 3), Scatter(0.0, 0.0, 0.0, 0.0, 2.0, "repeats")
    first_order = uncertainty_of_test(evaluation, nothing, alone, model=S1)
    simulated = simulated_of(evaluation, nothing, alone, seed=3)
    for name in SCORES:
        assert simulated[name].u == pytest.approx(first_order.scores[name].u, rel=WITHIN, abs=1e-9), name


DEPTH = 7.0
# A foam that stiffens, one that gives way and one that first gives way and then bottoms out.
SHAPES = {
    "straight": lambda share: share,
    "convex": lambda share: share**1.7,
    "concave": lambda share: 1.25 * share - 0.25 * share**2,
    "bottoming": lambda share: 2.2 * share - 3.6 * share**2 + 2.4 * share**3,
}


def whole_curves(shape):
    """A repeat that goes past both marks, of 600 points."""
    share = np.linspace(0.0, 1.06, 600)
    angles = np.linspace(0.0, 18.0, 300)
    torque = 4.5 * SHAPES[shape](angles / 15.0)
    return [
        RecordedCurve("torsion", 1, "loading", angles, torque),
        RecordedCurve("compression", 1, "loading", DEPTH * share, TARGET_FORCE_N * SHAPES[shape](share)),
    ]


@pytest.mark.parametrize("shape", SHAPES)
def test_first_order_agrees_with_monte_carlo_of_whole_curves(shape):
    """Errors are laid on curves of every shape, which are read again; the budget has their slopes at the marks."""
    curves = whole_curves(shape)
    clean = evaluate_curves(curves)
    assert clean.reasons == ()
    nothing = Scatter(0.0, 0.0, 0.0, 0.0, math.inf, "repeats")
    effects = [*reading_effects(clean, Target()), *contact_effect(clean, Target(), u_force_n=0.4)]
    first_order = uncertainty_of_test(clean, nothing, KNOWN, model=S1, effects=effects)
    u = {each.quantity: math.hypot(each.standard_uncertainty, each.resolution / math.sqrt(12.0)) for each in KNOWN}
    torsion, compression = ([(each.position, each.load)] for each in curves)
    response = response_of_curves(torsion, compression, target=Target(), u=(u["angle"], 0.4, u["force"]))
    inputs = inputs_of(clean, nothing, KNOWN)
    inputs = dataclasses.replace(inputs, errors={**inputs.errors, "contact": [Normal(0.0, 0.4)]})
    simulated = simulate_scores(response, inputs, model=S1, draws=100_000, rng=np.random.default_rng(7))
    for name in SCORES:
        assert simulated[name].u == pytest.approx(first_order.scores[name].u, rel=2 * WITHIN), name


def test_curves_that_end_at_their_marks_are_read_under_every_error():
    ends = [(np.array([0.0, 15.0]), np.array([0.0, 5.0]))], [(np.array([0.0, 8.0]), np.array([5.0, TARGET_FORCE_N]))]
    response = response_of_curves(*ends, target=Target(), u=(0.1, 0.5, 0.8))
    errors = np.array([-0.4, -0.1, 0.0, 0.1, 0.4])
    assert response.torque_nm(errors) == pytest.approx(5.0 - errors / 3.0, abs=0.01)
    deflection, work = response.compression(errors, 0.0 * errors)
    assert deflection == pytest.approx(8.0 + errors * 8.0 / (TARGET_FORCE_N - 5.0), abs=1e-3)
    assert np.isfinite(work).all()


def test_what_acts_in_a_straight_line_is_added_once_to_every_score():
    inputs = Inputs(np.array([5.1, 5.9, 1.3]), np.zeros((3, 3)), math.inf, {}, [(Normal(0.0, 0.5), ACTS)])
    response = response_of_readings(5.1, 5.9, 1.3, target=Target())
    found = simulate_scores(response, inputs, model=S1, draws=50_000, rng=np.random.default_rng(8))
    assert [found[name].u for name in SCORES] == pytest.approx([1.0, 0.5, 1.5, 0.0], rel=0.02)


ACTS = {"stability": -2.0, "midfoot": 1.0, "rearfoot": 3.0}


def test_too_few_draws_are_refused():
    evaluation, nothing = evaluation_of(MIDDLE), Scatter(0.0, 0.0, 0.0, 0.0, 2.0, "repeats")
    with pytest.raises(ValueError, match="draws must be ≥ 100, got 99"):
        simulated_of(evaluation, nothing, KNOWN, seed=1, draws=99)


def test_equal_seeds_give_equal_figures():
    inputs = Inputs(np.array([5.1, 5.9, 1.3]), np.zeros((3, 3)), math.inf, {"torque": [Rectangular(0.0, 0.5)]})
    response = response_of_readings(5.1, 5.9, 1.3, target=Target())
    one, two = (
        simulate_scores(response, inputs, model=S1, draws=1000, rng=np.random.default_rng(9), level=0.9)
        for _ in range(2)
    )
    assert one == two
    assert {(found.n, found.level) for found in one.values()} == {(1000, 0.9)}
