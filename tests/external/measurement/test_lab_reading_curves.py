"""Reading curves with spikes and noise: the failing cases of the issue, and figures that follow by definition."""

from __future__ import annotations

import numpy as np
import pytest

from labtests.domain.curves.compression import read_compression
from labtests.domain.curves.curves import TARGET_FORCE_N, Target
from labtests.domain.curves.local_fit import rising
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores.evaluation import evaluate_curves
from labtests.domain.scores.plausibility import check_signs
from labtests.domain.scores.scoring import S1
from labtests.domain.uncertainty.curve_effects import contact_effect

POINTS_A_MM = 100.0 / (S1.deflection_0_mm - S1.deflection_100_mm)


def heel(exponent, points, *, deflection_mm=6.0):
    depth = np.linspace(0.0, 1.05 * deflection_mm, points)
    return depth, TARGET_FORCE_N * (depth / deflection_mm) ** exponent


def torsion(torque_nm=5.0):
    angle = np.linspace(0.0, 16.0, 33)
    return RecordedCurve("torsion", 1, "loading", angle, torque_nm * angle / 15.0)


def test_one_spike_of_450_newtons_decides_nothing_and_is_held():
    """DEF: one point of 450 N at 1.1 mm; read at its first crossing the rearfoot was 131."""
    depth, force = heel(1.5, 240)
    clean = read_compression(depth, force)
    force[np.searchsorted(depth, 1.1)] = 450.0
    found = evaluate_curves([torsion(), RecordedCurve("compression", 1, "loading", depth, force)])
    assert found.deflection_mm.mean == pytest.approx(clean.deflection_mm, abs=1e-9)
    (reason,) = found.reasons
    assert reason.code == "spike"
    assert "450 N at 1.1" in reason.message


@pytest.mark.parametrize("points", [200, 1000])
def test_one_newton_of_noise_does_not_bias_the_rearfoot(points):
    """DEF: the deflection of F = 444.822 (x/6 mm)^1.8; the first crossing was 0.86 points low at some 700 points."""
    rng = np.random.default_rng(points)
    depth, force = heel(1.8, points)
    true_mm = 6.0 * (1.0 - (5.0 / TARGET_FORCE_N) ** (1.0 / 1.8))
    off = [read_compression(depth, force + rng.normal(0.0, 1.0, points)).deflection_mm - true_mm for _ in range(300)]
    assert abs(np.mean(off)) * POINTS_A_MM < 0.1


@pytest.mark.parametrize("directions", [(1.0,), (-1.0,), (1.0, -1.0)])
def test_reversed_torque_is_held_in_curve_files(directions):
    """DEF: torque of the wrong sign, in one direction alone as well: two of them may average to more than nothing."""
    angle = np.concatenate([way * np.linspace(0.0, 16.0, 33) for way in directions])
    slope = np.where(angle < 0.0, -0.2, 0.4) if len(directions) == 2 else np.full(len(angle), -0.3)
    found = evaluate_curves([RecordedCurve("torsion", 1, "loading", angle, slope * angle)])
    assert [reason.code for reason in check_signs([], found.repeats)] == ["sign_reversed"]


def test_force_zero_error_moves_the_contact_five_times_as_far_as_the_whole_curve_says():
    """DERIVED: F = k x^1.8: the slope at 5 N against the mean slope to 444.822 N, 1/1.8 (444.822/5)^(0.8/1.8) ≈ 4.1."""
    depth, force = heel(1.8, 4000)
    found = evaluate_curves([torsion(), RecordedCurve("compression", 1, "loading", depth, force)])
    (effect,) = contact_effect(found, Target(), u_force_n=1.0)
    secant = 6.0 / TARGET_FORCE_N
    ratio = (TARGET_FORCE_N / 5.0) ** (1.0 - 1.0 / 1.8) / 1.8
    assert effect.sensitivities[1] / secant == pytest.approx(ratio, rel=0.02)


def test_isotonic_regression_of_a_published_example():
    """Example of an open-source package's documentation, MEM: pools of 2.75 and 7.33, the means (DEF)."""
    level = rising(np.array([5.0, 3.0, 1.0, 2.0, 8.0, 10.0, 7.0, 9.0, 6.0, 4.0]))
    assert level == pytest.approx([2.75] * 4 + [44.0 / 6.0] * 6)
