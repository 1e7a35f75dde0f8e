"""Temperature and the shape of curves as sources of uncertainty."""

from __future__ import annotations

import math

import numpy as np
import pytest

from labtests.domain.curves.work_shape import ASSUMED, fit_shape
from labtests.domain.files.header import Conditions
from labtests.domain.files.readingsfile import RepeatReading
from labtests.domain.scores.evaluation import evaluate_readings
from labtests.domain.scores.scoring import S1, score
from labtests.domain.studies.temperature_fit import fit_temperature
from labtests.domain.uncertainty.scatter import Scatter
from labtests.domain.uncertainty.temperature import LITERATURE, TemperatureBasis, temperature_effect
from labtests.domain.uncertainty.uncertainty import Calibration
from tests.reference.one_test import uncertainty_of_test

NOMINAL = Conditions(50, 23, 444.8, 177.9)
EVALUATION = evaluate_readings([RepeatReading(1, 5.2, 6.1, NOMINAL)])
PERFECT = [Calibration(name, 0.0, 0.0) for name in ("torque", "displacement", "angle", "force")]
STILL = Scatter(0.0, 0.0, 0.0, 0.0, 10.0, "repeats")


def test_difference_itself_is_within_the_expanded_uncertainty():
    """A shoe that changes by 0.7 % a kelvin, tested 1.6 K too warm, against its score at the nominal temperature."""
    basis = TemperatureBasis(-0.7, 0.7, 0.7, "measured")
    effects = temperature_effect(EVALUATION, basis, off_k=1.6, u_k=0.0)
    found = uncertainty_of_test(EVALUATION, STILL, PERFECT, model=S1, effects=effects)
    nominal = score(5.2, 6.1, 1.3, model=S1)
    warm = score(5.2 * (1 - 0.0112), 6.1 * 1.0112, 1.3 * 1.0112, model=S1)
    for name in ("stability", "midfoot", "rearfoot"):
        assert abs(getattr(warm, name) - getattr(nominal, name)) < 2.0 * found.scores[name].u
    # One temperature moves torque and deflection together: their shares of the stability add up.
    parts = S1.weight_midfoot * found.scores["midfoot"].u, S1.weight_rearfoot * found.scores["rearfoot"].u
    assert found.scores["stability"].u == pytest.approx(sum(parts))


def test_too_cold_is_as_uncertain_as_too_warm():
    (cold,) = temperature_effect(EVALUATION, LITERATURE, off_k=-1.2, u_k=0.1)
    (warm,) = temperature_effect(EVALUATION, LITERATURE, off_k=1.2, u_k=0.1)
    assert cold == warm
    assert cold.component.u == pytest.approx(math.sqrt(1.2**2 / 3 + 0.01))


def test_exact_temperature_leaves_nothing_open():
    assert temperature_effect(EVALUATION, LITERATURE, off_k=0.0, u_k=0.0) == ()


def test_coefficient_is_relative_whatever_the_size():
    celsius = np.array([18.0, 20.0, 22.0, 24.0, 26.0])
    readings = np.exp(-0.009 * celsius)
    small, large = fit_temperature(celsius, readings), fit_temperature(celsius, 7000.0 * readings)
    assert small.percent_k == pytest.approx(-0.9)
    assert large.percent_k == pytest.approx(small.percent_k)
    assert small.is_shown


def test_interval_holds_the_coefficient_as_often_as_it_says():
    rng = np.random.default_rng(11)
    celsius = np.array([19.0, 21.0, 23.0, 25.0, 27.0])
    held = 0
    for _ in range(1000):
        fit = fit_temperature(celsius, 5.0 * np.exp(-0.008 * celsius) * (1 + rng.normal(0.0, 0.004, 5)))
        held += fit.interval.low < -0.8 < fit.interval.high
        assert abs(fit.furthest) >= abs(fit.percent_k)
    assert 0.93 < held / 1000 < 0.97


@pytest.mark.parametrize(
    ("celsius", "readings", "words"),
    [
        ([20.0, 23.0, 26.0], [5.1, 5.0, 4.9], "4 tests or more are needed, there are 3"),
        ([22.0, 22.5, 23.0, 24.0], [5.0, 5.0, 5.0, 5.0], "span"),
        ([20.0, 22.0, 24.0, 26.0], [5.0, 5.0, 0.0, 5.0], "readings must be > 0"),
    ],
)
def test_what_shows_no_coefficient_is_refused(celsius, readings, words):
    with pytest.raises(ValueError, match=words):
        fit_temperature(celsius, readings)


def test_equal_readings_change_by_nothing():
    fit = fit_temperature([20.0, 22.0, 24.0, 26.0], [5.0] * 4)
    assert (fit.percent_k, fit.is_shown) == (pytest.approx(0.0), False)


def test_shape_of_too_few_or_equal_shoes_is_assumed():
    assert fit_shape([]) is ASSUMED
    assert fit_shape([0.4] * 4) is ASSUMED
    assert fit_shape([0.4] * 9) is ASSUMED
    with pytest.raises(ValueError, match="finite"):
        fit_shape([0.4, 0.41, math.nan, 0.42, 0.43])


def test_u_of_the_shape_is_that_of_another_shoe():
    rng = np.random.default_rng(6)
    off = []
    for _ in range(4000):
        *shoes, another = rng.normal(0.43, 0.02, 8)
        shape = fit_shape(shoes)
        off.append((another - shape.share) / shape.u)
    # Student's t of six degrees of freedom.
    assert np.mean(np.abs(off) < 2.447) == pytest.approx(0.95, abs=0.012)


@pytest.mark.parametrize("shape", [ASSUMED, fit_shape([0.40, 0.42, 0.43, 0.45, 0.47])])
def test_shape_carries_its_u_into_the_cushioning_alone(shape):
    evaluation = evaluate_readings([RepeatReading(1, 5.2, 6.1, NOMINAL)])
    found = uncertainty_of_test(evaluation, STILL, PERFECT, model=S1, effects=[shape.effect(6.1)])
    assert evaluation.work_j.mean == pytest.approx(0.5 * 444.82216152605 * 6.1 / 1000)
    per_joule = 100.0 / (S1.work_100_j - S1.work_0_j)
    assert found.scores["cushioning"].u == pytest.approx(
        math.hypot(shape.u, shape.share - 0.5) * 444.82216152605 * 6.1 / 1000 * per_joule
    )
    assert found.scores["stability"].u == 0.0
