"""Curves that are read together read as each does alone, whatever the others are."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.random import default_rng

from labtests.domain.curves.compression import read_compressions
from labtests.domain.curves.curve_set import CurveSet, medians, starts_of
from labtests.domain.curves.curves import CurveShortfall, raise_shortfall
from labtests.domain.curves.parabolas import fit_parabolas
from labtests.domain.curves.torsion import read_torsions
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores.evaluation import evaluate_curves, evaluate_tests

SIZES = (2, 5, 12, 40, 200, 700)


def twist(draw):
    """Few points and many, one direction and both, clean and noisy, some too short, some with a spike."""
    angle = np.linspace(draw.choice([0.0, -0.5, -16.0]), draw.choice([14.0, 15.0, 16.0, 20.0]), draw.choice(SIZES))
    torque = 0.3 * angle + draw.normal(0.0, draw.choice([1e-6, 0.01, 0.3]), angle.size)
    if draw.random() < 0.2:
        torque[draw.integers(angle.size)] += 20.0
    return angle, torque


def press(draw):
    depth = np.linspace(0.0, 7.0, draw.choice(SIZES))
    noise = draw.normal(0.0, draw.choice([1e-6, 0.2, 3.0]), depth.size)
    force = draw.choice([420.0, 460.0, 520.0]) * (depth / 7.0) ** draw.uniform(1.0, 1.8) + noise
    unloading = (depth[::-1], 0.7 * force[::-1]) if draw.random() < 0.5 else None
    return (depth, force), unloading


@pytest.mark.parametrize(("read", "curve"), [(read_torsions, twist), (read_compressions, press)])
def test_neighbours_change_nothing(read, curve):
    draw = default_rng(11)
    curves = [curve(draw) for _ in range(300)]
    together = read(curves)
    # Shortfalls are no dataclasses and compare by identity.
    assert [repr(found) for found in together] == [repr(*read([one])) for one in curves]
    short = [isinstance(found, CurveShortfall) for found in together]
    assert 30 < sum(short) < 270
    assert any(found.spikes for found in together if not isinstance(found, CurveShortfall))


def test_nothing_to_read_gives_nothing():
    assert (read_torsions([]), read_compressions([]), evaluate_tests([])) == ([], [], [])


def test_a_shortfall_is_raised_where_one_curve_is_meant():
    (short,) = read_torsions([(np.array([0.0, 9.0]), np.array([0.0, 3.0]))])
    with pytest.raises(CurveShortfall, match="stops at 9°"):
        raise_shortfall(short)


def test_readings_go_to_the_test_and_repeat_they_are_of():
    def torsion(repeat, torque):
        return RecordedCurve("torsion", repeat, "loading", np.array([0.0, 15.0]), np.array([0.0, torque]))

    def compression(repeat, depth):
        return RecordedCurve("compression", repeat, "loading", np.array([0.0, depth]), np.array([0.0, 450.0]))

    tests = [
        [torsion(1, 4.1), compression(1, 6.1), torsion(2, 4.2)],
        [],
        [compression(3, 6.2), torsion(3, 4.3), compression(4, 6.3)],
    ]
    together = evaluate_tests(tests)
    assert [[repeat.torque_15_nm for repeat in found.repeats] for found in together] == [[4.1, 4.2], [], [4.3, None]]
    assert [[repeat.deflection_mm is None for repeat in found.repeats] for found in together] == [
        [False, True],
        [],
        [False, False],
    ]
    assert together == [evaluate_curves(curves) for curves in tests]


def test_each_stretch_has_the_parabola_that_numpy_fits():
    draw = default_rng(12)
    stretches = [(np.sort(draw.uniform(-1.0, 1.0, n)), draw.normal(0.0, 1.0, n)) for n in (7, 19, 60)]
    fit = fit_parabolas(CurveSet.of(stretches))
    at = np.array([0.0, 0.4, -0.7])
    for index, (x, y) in enumerate(stretches):
        coefficients, covariance = np.polyfit(x, y, 2, cov=True)
        powers = np.array([at[index] ** 2, at[index], 1.0])
        assert [fit.c[index], fit.b[index], fit.a[index]] == pytest.approx(coefficients.tolist())
        assert fit.value(at)[index] == pytest.approx(powers @ coefficients)
        assert fit.u(at)[index] == pytest.approx(np.sqrt(powers @ covariance @ powers))


def test_points_at_one_place_determine_no_parabola():
    on_the_spot = np.zeros(9), np.arange(9.0)
    sound = np.linspace(-1.0, 1.0, 9), np.arange(9.0) ** 2
    fit = fit_parabolas(CurveSet.of([on_the_spot, sound]))
    assert np.isinf(fit.sd).tolist() == [True, False]


def test_medians_of_groups_are_numpy_s():
    groups = [default_rng(13).normal(size=n) for n in (1, 2, 7, 40)]
    found = medians(np.concatenate(groups), starts_of([len(group) for group in groups]))
    assert found.tolist() == [float(np.median(group)) for group in groups]
