"""Temperature as a source of uncertainty, and the work of a heel whose curve is not known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import linregress, t

from fixtures.domain.foam import FAMILIES, displacement_at_mm, heel_for_deflection, loading_force_n
from labtests.domain.curves.compression import read_compression
from labtests.domain.curves.curves import TARGET_FORCE_N
from labtests.domain.curves.work_shape import ASSUMED, fit_shape
from labtests.domain.files.header import Conditions
from labtests.domain.files.readingsfile import RepeatReading
from labtests.domain.scores.evaluation import evaluate_readings
from labtests.domain.scores.scoring import S1, estimated_work_j
from labtests.domain.studies.temperature_fit import fit_temperature
from labtests.domain.uncertainty.temperature import BOUND_PERCENT_K, LITERATURE, temperature_effect, temperature_u_k

EVALUATION = evaluate_readings([RepeatReading(1, 5.0, 6.0, Conditions(50, 25, 444.8, 177.9))])
POINTS_A_JOULE = 100.0 / (S1.work_100_j - S1.work_0_j)


def test_bound_of_the_literature():
    """TE-01, PAGE but weak: up to 50 % between 90 to 95 °F and 30 to 35 °F, 33.3 K: at most 1.5 %/K."""
    assert pytest.approx(50.0 / (60.0 / 1.8), abs=0.001) == BOUND_PERCENT_K
    assert "upper bound" in LITERATURE.words


def test_two_kelvin_at_the_bound():
    """TE-02, DERIVED: 1.5 %/K and ±2 K, rectangular: u = 3 %/√3 = 1.7321 %."""
    assert temperature_u_k(2.0) * BOUND_PERCENT_K == pytest.approx(1.7321, abs=5e-5)
    (effect,) = temperature_effect(EVALUATION, LITERATURE, off_k=2.0, u_k=0.0)
    for sensitivity, reading in zip(effect.sensitivities, (5.0, 6.0, EVALUATION.work_j.mean), strict=True):
        assert abs(sensitivity) * effect.component.u / reading == pytest.approx(0.017321, abs=5e-7)


def test_softening_of_the_demo_is_within_the_expanded_uncertainty():
    """The demo's 0.8 %/K at 21 to 25 °C, on torque and deflection at once; without the term the coverage was 0.42."""
    for celsius in np.linspace(21.0, 25.0, 9).tolist():
        off = celsius - 23.0
        effects = temperature_effect(EVALUATION, LITERATURE, off_k=off, u_k=0.1)
        (effect,) = effects
        for sensitivity, reading in zip(effect.sensitivities[:2], (5.0, 6.0), strict=True):
            assert 0.008 * abs(off) * reading <= 2.0 * abs(sensitivity) * effect.component.u


def test_coefficient_agrees_with_an_independent_regression():
    """Second witness: scipy.stats.linregress of the logarithms, and Student's t."""
    rng = np.random.default_rng(12)
    celsius = np.array([18.5, 20.0, 21.5, 23.0, 24.5, 26.0, 27.5])
    readings = 5.3 * (1.0 - 0.008 * (celsius - 23.0)) * (1.0 + rng.normal(0.0, 0.003, 7))
    fit, line = fit_temperature(celsius, readings), linregress(celsius, np.log(readings))
    half = t.ppf(0.975, 5) * line.stderr
    assert fit.percent_k == pytest.approx(100.0 * line.slope, rel=1e-9)
    assert fit.u == pytest.approx(100.0 * line.stderr, rel=1e-9)
    assert fit.interval.low == pytest.approx(100.0 * (line.slope - half), rel=1e-9)
    assert fit.interval.high == pytest.approx(100.0 * (line.slope + half), rel=1e-9)


def demo_heel(family, deflection_mm, thickness_mm=27.0):
    """Deflection and work of a heel of the demo, read from its own curve."""
    heel = heel_for_deflection(FAMILIES[family], thickness_mm=thickness_mm, deflection_mm=deflection_mm)
    depth = np.linspace(0.0, displacement_at_mm(heel, TARGET_FORCE_N + 9.0), 400)
    return read_compression(depth, loading_force_n(heel, depth))


def missed(reading, shape):
    """Points of cushioning that an estimate is above what the curve gives, and its expanded uncertainty."""
    effect = shape.effect(reading.deflection_mm)
    u_points = abs(effect.sensitivities[2]) * effect.component.u * POINTS_A_JOULE
    k = t.ppf(0.97725, shape.df) if math.isfinite(shape.df) else 2.0
    return (estimated_work_j(reading.deflection_mm) - reading.work_j) * POINTS_A_JOULE, k * u_points


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("deflection_mm", [4.5, 6.0, 8.0])
def test_miss_of_the_assumed_shape_is_within_its_uncertainty(family, deflection_mm):
    """The curves of the demo have -1 to +14 points more than half of force times deflection says."""
    off, expanded = missed(demo_heel(family, deflection_mm), ASSUMED)
    assert -16.0 < off < 3.0
    assert abs(off) < expanded


@pytest.mark.parametrize("left_out", FAMILIES)
def test_fitted_shape_covers_a_shoe_that_it_was_not_fitted_on(left_out):
    """DEF: shoes of the other families and of this one at another deflection; the new shoe within its own U."""
    shoes = [
        demo_heel(family, depth) for family in FAMILIES for depth in (5.0, 7.0) if (family, depth) != (left_out, 7)
    ]
    shape = fit_shape([1000.0 * shoe.work_j / (TARGET_FORCE_N * shoe.deflection_mm) for shoe in shoes])
    off, expanded = missed(demo_heel(left_out, 7.0), shape)
    assert shape.shoes == len(shoes)
    assert abs(off) < expanded
