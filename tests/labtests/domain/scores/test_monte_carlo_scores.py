"""The first-order uncertainty of scores against Monte Carlo: from the budget, and from whole curves."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm, qmc

from labtests.domain.files.benchfile import Series
from labtests.domain.scores.curves import TARGET_FORCE_N
from labtests.domain.scores.evaluation import Evaluation, Repeat, evaluate_curves, summarise
from labtests.domain.scores.monte_carlo import Normal, Rectangular, propagate, simulate_scores
from labtests.domain.scores.scatter import Scatter, scatter_of_repeats
from labtests.domain.scores.scoring import S1, SCORES, score
from labtests.domain.scores.uncertainty import Calibration, uncertainty_of_test

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


@pytest.mark.parametrize("rows", [SOFT, MIDDLE, STIFF])
@pytest.mark.parametrize("seed", [1, 2])
def test_first_order_agrees_with_monte_carlo_of_the_same_budget(rows, seed):
    evaluation = evaluation_of(rows)
    scatter = scatter_of_repeats(evaluation.repeats)
    first_order = uncertainty_of_test(evaluation, scatter, KNOWN, model=S1)
    simulated = simulate_scores(evaluation, scatter, KNOWN, model=S1, draws=200_000, rng=np.random.default_rng(seed))
    for name in SCORES:
        assert simulated[name].u == pytest.approx(first_order.scores[name].u, rel=WITHIN), name
        value = getattr(score(*(np.mean([row[i] for row in rows]) for i in range(3)), model=S1), name)
        assert simulated[name].mean == pytest.approx(value, abs=0.02 * simulated[name].u)
    # Nearly normal: normal draws know nothing of degrees of freedom, so that k = 2 holds 95 % of them.
    stability = simulated["stability"]
    assert stability.high - stability.low == pytest.approx(4 * first_order.scores["stability"].u, rel=0.03)


@pytest.mark.parametrize("quantity", ["torque", "angle", "displacement", "force"])
def test_each_calibration_alone_agrees(quantity):
    """One large source at a time, so that no other hides a wrong derivative."""
    alone = [Calibration(each.quantity, 0.0, 0.0) for each in KNOWN if each.quantity != quantity]
    alone.append(Calibration(quantity, 0.05, 0.05))
    evaluation, nothing = evaluation_of([MIDDLE[0]] * 3), Scatter(0.0, 0.0, 0.0, 0.0, 2.0, "repeats")
    first_order = uncertainty_of_test(evaluation, nothing, alone, model=S1)
    simulated = simulate_scores(evaluation, nothing, alone, model=S1, draws=200_000, rng=np.random.default_rng(3))
    for name in SCORES:
        assert simulated[name].u == pytest.approx(first_order.scores[name].u, rel=WITHIN, abs=1e-9), name


def straight_curves(torque_slope, force_slope, errors):
    """One repeat of straight curves as a rig with these errors writes them down.

    The display moves the reading by `error`, so what is read at a true place is shown beside it.
    """
    torque, angle, displacement, force = errors
    angles = np.linspace(0.0, 18.0, 19)
    depths = np.linspace(0.0, 9.0, 46)
    # Torque is read against its value at 0°, and displacement from first contact: errors there are of the span.
    span_t = torque / 15.0 * angles
    span_d = displacement / 7.0 * depths
    return [
        Series("torsion", 1, "loading", angles * (1.0 - angle / 15.0), torque_slope * angles + span_t),
        Series("compression", 1, "loading", depths + span_d, force_slope * depths * (1.0 - force / TARGET_FORCE_N)),
    ]


def test_first_order_agrees_with_monte_carlo_of_whole_curves():
    """Errors are laid on straight curves, whose slope is the secant, and everything is read from them anew."""
    uniform = qmc.Sobol(4, rng=np.random.default_rng(7)).random(2048)
    u = [math.hypot(each.standard_uncertainty, each.resolution / math.sqrt(12.0)) for each in KNOWN[:4]]
    # KNOWN lists torque, angle, displacement, force: the order of the errors.
    errors = norm.ppf(np.clip(uniform, 1e-9, 1.0 - 1e-9)) * u
    slopes = 0.3, TARGET_FORCE_N / 7.0
    clean = evaluate_curves(straight_curves(*slopes, (0.0, 0.0, 0.0, 0.0)))
    found = {name: [] for name in SCORES}
    for row in errors:
        read = evaluate_curves(straight_curves(*slopes, row))
        scores = score(read.torque_15_nm.mean, read.deflection_mm.mean, read.work_j.mean, model=S1)
        for name in SCORES:
            found[name].append(getattr(scores, name))
    nothing = Scatter(0.0, 0.0, 0.0, 0.0, 2.0, "repeats")
    first_order = uncertainty_of_test(clean, nothing, KNOWN, model=S1)
    for name in SCORES:
        assert np.std(found[name], ddof=1) == pytest.approx(first_order.scores[name].u, rel=WITHIN), name


def test_what_is_missing_is_named():
    evaluation, nothing = evaluation_of(MIDDLE), Scatter(0.0, 0.0, 0.0, 0.0, 2.0, "repeats")
    rng = np.random.default_rng(1)
    with pytest.raises(ValueError, match="calibrations must hold torque, got none"):
        simulate_scores(evaluation, nothing, [], model=S1, draws=100, rng=rng)
    with pytest.raises(ValueError, match="draws must be ≥ 100, got 99"):
        simulate_scores(evaluation, nothing, KNOWN, model=S1, draws=99, rng=rng)
    empty = Evaluation((), None, None, None, None, False, ())
    with pytest.raises(ValueError, match="must be read"):
        simulate_scores(empty, nothing, KNOWN, model=S1, draws=100, rng=rng)


def test_equal_seeds_give_equal_figures():
    inputs = [Normal(1.0, 0.1), Rectangular(0.0, 0.5)]
    one, two = (
        propagate(inputs, lambda a, b: a + b, draws=1000, rng=np.random.default_rng(9), level=0.9) for _ in range(2)
    )
    assert one == two
    assert (one.n, one.level) == (1000, 0.9)
