"""Propagation of uncertainty against the worked examples of the GUM (JCGM 100:2008), pooling against NIST."""

from __future__ import annotations

import math

import numpy as np
import pytest

from labtests.domain.conditions.calibration_fit import Use, fit_effects, fit_points
from labtests.domain.conditions.calibrations import Point
from labtests.domain.scores.bands import Band, band_probabilities, place
from labtests.domain.uncertainty.propagation import BudgetTable, Component, combined_covariance
from tests.external.measurement.test_lab_degrees_of_freedom import pooled_variance
from tests.reference.one_output import effective_df

V = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
I_A = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) / 1000
PHI = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])


def test_risk_behind_a_guard_band_of_u():
    """J-03, JCGM 106:2012 (r = 1): a guard band of U = 2 u leaves a risk of 2.275 % at most. DEF: 1 - Φ(2)."""
    low, high = Band(1, "low", None, 60.0), Band(2, "high", 60.0, None)
    edge = place(58.0, 1.0, [low, high], guard=2.0)
    assert not edge.is_guarded
    assert 1.0 - edge.probability == pytest.approx(1.0 - 0.9772498680518208, abs=1e-12)
    nearer = place(58.001, 1.0, [low, high], guard=2.0)
    assert nearer.is_guarded
    assert 1.0 - nearer.probability > 1.0 - 0.9772498680518208


def gum_h1():
    """H.1 end gauge. Inputs PAGE (a metrology library's listing of the example); budget text MEM. Lengths in nm."""
    length_nm, expansion = 50.000623e6, 11.5e-6
    components = [
        Component("standard", "B", 25.0, "nm", df=18),
        Component("difference", "A", math.sqrt(5.8**2 + 3.9**2 + 6.7**2), "nm", df=25.6),
        Component("difference of expansion", "B", 1e-6 / math.sqrt(3), "1/K", df=50),
        Component("difference of temperature", "B", 0.05 / math.sqrt(3), "K", df=2),
    ]
    return components, [1.0, 1.0, 0.1 * length_nm, -expansion * length_nm]


def test_gum_h1_combined_uncertainty_of_the_end_gauge():
    components, sensitivities = gum_h1()
    rows = tuple(BudgetTable(components, sensitivities))
    contributions = [row.contribution for row in rows]
    assert contributions == pytest.approx([25.0, 9.681942, 2.88675, 16.59882], abs=2e-3)
    covariance = np.diag([component.u**2 for component in components])
    u = math.sqrt(combined_covariance(np.array([sensitivities]), covariance)[0, 0])
    assert u == pytest.approx(31.6638, abs=0.01)
    assert u == pytest.approx(32, abs=0.5)  # as printed
    assert math.fsum(row.share for row in rows) == pytest.approx(1.0)


def test_gum_h1_effective_degrees_of_freedom():
    # Published 16.7 (truncated to 16); library run 16.7519, PAGE.
    assert effective_df(*gum_h1()) == pytest.approx(16.7519, abs=0.05)


def test_gum_h2_correlated_inputs_from_raw_readings():
    """H.2 resistance and reactance. Raw data MEM; means, uncertainties and correlations PAGE and reproduced from it."""
    covariance = np.cov(np.vstack([V, I_A, PHI]), ddof=1) / len(V)
    u = np.sqrt(np.diag(covariance))
    assert u == pytest.approx([3.209361e-3, 9.471008e-6, 0.752064e-3], rel=1e-6)
    v, i, phi = V.mean(), I_A.mean(), PHI.mean()
    r, x, z = v / i * math.cos(phi), v / i * math.sin(phi), v / i
    sensitivities = np.array([[r / v, -r / i, -x], [x / v, -x / i, r], [z / v, -z / i, 0.0]])
    outputs = combined_covariance(sensitivities, covariance)
    spread = np.sqrt(np.diag(outputs))
    assert [r, x, z] == pytest.approx([127.732170, 219.846512, 254.259702], abs=1e-6)
    assert spread == pytest.approx([0.071071, 0.295582, 0.236336], abs=1e-6)
    correlation = outputs / np.outer(spread, spread)
    assert [correlation[0, 1], correlation[0, 2], correlation[1, 2]] == pytest.approx(
        [-0.588430, -0.485259, 0.992512], abs=1e-6
    )


def test_gum_h2_leaving_the_correlation_out_would_change_the_result():
    covariance = np.cov(np.vstack([V, I_A, PHI]), ddof=1) / len(V)
    v, i, phi = V.mean(), I_A.mean(), PHI.mean()
    r, x = v / i * math.cos(phi), v / i * math.sin(phi)
    row = np.array([[r / v, -r / i, -x]])
    without = math.sqrt(combined_covariance(row, np.diag(np.diag(covariance)))[0, 0])
    assert without > 2 * 0.071071


def test_pooled_repeatability_of_five_wafers():
    """NIST/SEMATECH e-Handbook 2.4.4.4, PAGE: 5 wafers, 60 degrees of freedom each, pooled s 0.10290."""
    sums_of_squares = 0.48115, 0.69209, 0.48483, 1.21752, 0.30076
    s = math.sqrt(pooled_variance([math.sqrt(square / 60) for square in sums_of_squares], 60))
    assert s == pytest.approx(0.1028972, abs=5e-6)


def test_conformance_probability_of_one_upper_limit():
    """J-01, JCGM 106:2012: y = -5.47 V, u = 0.05 V, limit -5.40 V. MEM for the printed 0.92; exact value Φ(1.4)."""
    bands = [Band(1, "conforming", None, -5.40), Band(2, "beyond", -5.40, None)]
    assert band_probabilities(-5.47, 0.05, bands)[0].probability == pytest.approx(0.9192433407662273, abs=1e-12)


@pytest.mark.parametrize(
    ("y", "u", "limits", "probability"),
    [
        (8.0, 1.0, (None, 10.0), 0.9772498680518208),  # J-03 DEF: inside by 2 u
        (8.355, 1.0, (None, 10.0), 0.9500150944608786),  # J-04 DEF: inside by 1.645 u
        (10.0, 0.5, (9.0, 11.0), 0.9544997361036416),  # J-05 DEF: two limits
        (24.6, 0.3, (21.0, 25.0), 0.9087887802741321),  # J-06 DERIVED: conditioning room
    ],
)
def test_conformance_probability_inside_limits(y, u, limits, probability):
    low, high = limits
    below = [Band(1, "below", None, low)] if low is not None else []
    bands = [*below, Band(2, "conforming", low, high), Band(3, "beyond", high, None)]
    entries = {entry.band.name: entry.probability for entry in band_probabilities(y, u, bands)}
    assert entries["conforming"] == pytest.approx(probability, abs=1e-12)


def test_conformance_probability_on_the_limit_is_one_half():
    """J-02, DEF."""
    bands = [Band(1, "conforming", None, 10.0), Band(2, "beyond", 10.0, None)]
    assert band_probabilities(10.0, 1.0, bands)[0].probability == 0.5


# GUM H.3: readings of a thermometer (°C) and their corrections.
THERMOMETER = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
CORRECTIONS = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


def test_calibration_line_of_gum_h3():
    """CHECKS_SECOND CO-02: MEM for the printed −0.1712, 0.0029, 0.00218, 0.00067, −0.930; recomputed, agrees."""
    fit = fit_points([Point(t - 20.0, t - 20.0 + b) for t, b in zip(THERMOMETER, CORRECTIONS, strict=True)])
    assert (fit.zero, fit.zero_u) == pytest.approx((-0.171204, 0.002878), abs=5e-7)
    assert (fit.gain - 1.0, fit.gain_u) == pytest.approx((0.00218270, 0.00066794), abs=5e-9)
    assert fit.correlation == pytest.approx(-0.930430, abs=5e-7)
    assert fit.error_at(10.0) == pytest.approx(-0.149377, abs=5e-7)
    assert fit.centre_u * math.sqrt(fit.n) == pytest.approx(0.003498, abs=5e-7)


def test_correlation_of_zero_and_gain_is_not_dropped():
    """CHECKS_SECOND CO-02: u of the correction at 30 °C is 0.004139; 0.007273 if r is dropped."""
    fit = fit_points([Point(t - 20.0, t - 20.0 + b) for t, b in zip(THERMOMETER, CORRECTIONS, strict=True)])
    effects = fit_effects("temperature", "°C", fit, Use((1.0, 0.0, 0.0), 10.0, is_difference=False), None)
    u = {each.component.source.partition(": ")[2]: each.component.u * each.sensitivities[0] for each in effects}
    assert math.hypot(u["zero"], u["gain"]) == pytest.approx(0.004139, abs=5e-7)
    assert math.hypot(fit.zero_u, 10.0 * fit.gain_u) == pytest.approx(0.007273, abs=5e-7)
