"""Curves with noise and spikes: what is read is what the shoe does, and u says how well."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.curves.compression import read_compression
from labtests.domain.curves.curve_set import CurveSet
from labtests.domain.curves.curves import TARGET_FORCE_N, Target
from labtests.domain.curves.local_fit import loads_at, noise_of, rising
from labtests.domain.curves.spikes import find_spikes
from labtests.domain.curves.torsion import read_torsion
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores.evaluation import evaluate_curves
from labtests.domain.uncertainty.curve_effects import contact_effect, reading_effects, slopes_of

DEPTH = 6.4


def pressed(exponent, points, *, air=0.0):
    """A heel that takes F = target (x/6.4 mm)^exponent, with the rig starting `air` mm above it."""
    depth = np.linspace(-air, DEPTH * 1.05, points)
    return depth, TARGET_FORCE_N * np.clip(depth / DEPTH, 0.0, None) ** exponent


def deflection(exponent):
    return DEPTH * (1.0 - (5.0 / TARGET_FORCE_N) ** (1.0 / exponent))


@pytest.mark.parametrize("exponent", [1.0, 1.35, 1.7, 2.1])
@pytest.mark.parametrize(("points", "noise"), [(120, 0.4), (240, 1.1), (900, 1.1)])
def test_noise_moves_the_deflection_to_neither_side_and_u_covers_it(exponent, points, noise):
    rng = np.random.default_rng(points)
    depth, force = pressed(exponent, points)
    found = [read_compression(depth, force + rng.normal(0.0, noise, points)) for _ in range(150)]
    off = np.array([each.deflection_mm for each in found]) - deflection(exponent)
    u = np.array([math.hypot(each.contact_u_mm, each.end_u_mm) for each in found])
    assert abs(off.mean()) < 0.008
    assert off.std() == pytest.approx(np.sqrt(np.mean(u**2)), rel=0.35)
    # Student's t of some 20 degrees of freedom holds about 95 % within 2.1 u.
    assert 0.85 < np.mean(np.abs(off) < 2.1 * u) <= 1.0


def test_air_before_the_contact_does_no_harm():
    rng = np.random.default_rng(5)
    depth, force = pressed(1.5, 300, air=1.2)
    off = [
        read_compression(depth, force + rng.normal(0.0, 0.9, 300)).deflection_mm - deflection(1.5) for _ in range(100)
    ]
    assert abs(np.mean(off)) < 0.01


def test_noise_moves_the_torque_to_neither_side_and_u_covers_it():
    rng = np.random.default_rng(2)
    angle = np.linspace(0.0, 16.0, 160)
    torque = 5.4 * (angle / 15.0) ** 1.15
    found = [read_torsion(angle, torque + rng.normal(0.0, 0.06, 160)) for _ in range(200)]
    off = np.array([each.torque_15_nm for each in found]) - 5.4
    assert abs(off.mean()) < 0.02
    assert off.std() == pytest.approx(np.mean([each.u_nm for each in found]), rel=0.25)


def test_clean_curve_is_interpolated_to_the_last_digit():
    depth, force = pressed(1.4, 90)
    reading = read_compression(depth, force)
    contact, end = np.interp([5.0, TARGET_FORCE_N], force, depth)
    assert reading.contact_mm == pytest.approx(contact, abs=1e-12)
    assert reading.deflection_mm == pytest.approx(end - contact, abs=1e-12)
    # What little there is comes from the bend of the curve changing.
    assert reading.end_u_mm < 1e-4


def test_corner_beside_the_mark_is_interpolated():
    depth = np.linspace(0.0, 10.0, 201)
    force = np.where(depth < 8.0, 40.0 * depth, 320.0 + 400.0 * (depth - 8.0))
    assert read_compression(depth, force).deflection_mm == pytest.approx(8.0 + (TARGET_FORCE_N - 320.0) / 400.0 - 0.125)


def test_spike_moves_nothing_and_is_named():
    depth, force = pressed(1.4, 240)
    clean = read_compression(depth, force)
    force[60] = 470.0
    read = read_compression(depth, force)
    assert read.deflection_mm == pytest.approx(clean.deflection_mm, abs=1e-9)
    assert read.work_j == pytest.approx(clean.work_j, abs=1e-4)
    assert [(spike.position, spike.load) for spike in read.spikes] == [(pytest.approx(depth[60]), 470.0)]


@pytest.mark.parametrize("run", [1, 2, 3])
@pytest.mark.parametrize("jump", [-60.0, 60.0])
def test_spikes_of_up_to_three_points_are_seen_in_noise(run, jump):
    rng = np.random.default_rng(run)
    depth, force = pressed(1.4, 240)
    force += rng.normal(0.0, 1.0, 240)
    force[100 : 100 + run] += jump
    assert find_spikes(depth, force).nonzero()[0].tolist() == list(range(100, 100 + run))


def test_spike_of_the_displacement_is_seen():
    depth, force = pressed(1.4, 240)
    depth[120] -= 2.0
    assert find_spikes(depth, force).nonzero()[0].tolist() == [120]


def test_turning_round_is_no_spike():
    out = np.linspace(0.0, 15.5, 40)
    angle = np.concatenate([out, out[::-1], -out, -out[::-1]])
    torque = 0.3 * angle + np.concatenate([[0.0] * 40, [-0.4] * 40, [0.0] * 40, [0.4] * 40])
    assert not find_spikes(angle, torque).any()


@given(st.lists(st.floats(0.0, 30.0), min_size=2, max_size=60))
def test_curve_that_never_falls_has_no_spikes_and_is_as_it_was(steps):
    load = np.cumsum(steps)
    assert not find_spikes(np.arange(float(len(load))), load).any()
    assert rising(load) is load


@given(st.lists(st.floats(-5.0, 5.0), min_size=2, max_size=60))
def test_rising_levels_never_fall_and_keep_the_mean(loads):
    level = rising(np.array(loads))
    assert (np.diff(level) >= -1e-12).all()
    assert level.mean() == pytest.approx(np.mean(loads), abs=1e-9)


def test_noise_is_found_beneath_a_bend():
    rng = np.random.default_rng(3)
    x = np.sort(rng.uniform(0.0, 1.0, 4000))
    bent = x, 50.0 * x**2 + rng.normal(0.0, 0.3, 4000)
    short = np.arange(6.0), np.arange(6.0) ** 2
    assert noise_of(CurveSet.of([bent, short])).tolist() == [pytest.approx(0.3, rel=0.06), 0.0]


def test_parabola_agrees_with_numpy():
    rng = np.random.default_rng(4)
    x = np.linspace(13.0, 17.0, 33)
    y = 0.02 * x**2 + 0.1 * x + rng.normal(0.0, 0.2, 33)
    (read,) = loads_at(CurveSet.of([(x, y)]), np.array([15.0]), half_width=5.0).rows()
    coefficients, covariance = np.polyfit(x - 15.0, y, 2, cov=True)
    assert read == (
        pytest.approx(coefficients[2]),
        pytest.approx(math.sqrt(covariance[2, 2])),
        pytest.approx(coefficients[1]),
    )


def curves(exponent, *, noise=0.0, repeats=3):
    rng = np.random.default_rng(9)
    angle = np.linspace(0.0, 16.0, 200)
    depth, force = pressed(exponent, 300)
    for repeat in range(1, repeats + 1):
        yield RecordedCurve("torsion", repeat, "loading", angle, 0.33 * angle + rng.normal(0.0, noise / 20, 200))
        yield RecordedCurve("compression", repeat, "loading", depth, force + rng.normal(0.0, noise, 300))


def test_slopes_are_those_of_the_curves_at_their_marks():
    slopes = slopes_of(evaluate_curves(list(curves(1.6))), Target())
    contact = DEPTH * (5.0 / TARGET_FORCE_N) ** (1 / 1.6)
    assert slopes.torque_nm_deg == pytest.approx(0.33)
    assert slopes.contact_mm_n == pytest.approx(contact / (1.6 * 5.0), rel=0.02)
    assert slopes.end_mm_n == pytest.approx(DEPTH / (1.6 * TARGET_FORCE_N), rel=0.02)


def test_noise_of_the_repeats_is_averaged_in_the_budget():
    evaluation = evaluate_curves(list(curves(1.6, noise=1.0)))
    effects = {each.component.source: each for each in reading_effects(evaluation, Target())}
    ends = [each.compression.end_u_mm for each in evaluation.repeats]
    end = effects["end of compression, noise of the curve"]
    assert end.component.u == pytest.approx(math.sqrt(sum(u**2 for u in ends)) / 3)
    # A later end adds its way at the target force; a later contact takes its way at 5 N.
    assert end.sensitivities == (0.0, 1.0, pytest.approx(TARGET_FORCE_N / 1000))
    assert effects["contact, noise of the curve"].sensitivities == (0.0, -1.0, -0.005)
    assert effects["torque, noise of the curve"].component.type_ == "A"


def test_clean_and_missing_curves_leave_nothing_open():
    assert reading_effects(evaluate_curves([]), Target()) == ()
    assert contact_effect(evaluate_curves([]), Target(), u_force_n=1.0) == ()
    straight = [RecordedCurve("torsion", 1, "loading", np.array([0.0, 15.0]), np.array([0.0, 5.0]))]
    assert reading_effects(evaluate_curves(straight), Target()) == ()


@pytest.mark.parametrize("exponent", [1.0, 1.3, 1.8])
def test_error_of_the_force_at_the_contact_moves_the_readings_as_its_effect_says(exponent):
    """An error of 0.5 N at no load that is gone at the target is laid on the curve, and the curve read again."""
    depth, force = pressed(exponent, 3000)
    error = 0.5
    torsion = RecordedCurve("torsion", 1, "loading", np.array([0.0, 15.0]), np.array([0.0, 5.0]))
    clean, moved = (
        evaluate_curves([torsion, RecordedCurve("compression", 1, "loading", depth, shown)])
        for shown in (force, force + error * (1.0 - force / TARGET_FORCE_N))
    )
    (effect,) = contact_effect(clean, Target(), u_force_n=error)
    _, by_deflection, by_work = effect.sensitivities
    assert moved.deflection_mm.mean - clean.deflection_mm.mean == pytest.approx(error * by_deflection, rel=0.06)
    assert moved.work_j.mean - clean.work_j.mean == pytest.approx(error * by_work, rel=0.06)
