"""Zero, gain and linearity of a certificate: by hand, at the edges, and what they do to the readings of a test."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.conditions.calibration_fit import Use, fit_effects, fit_points
from labtests.domain.conditions.calibrations import Point
from labtests.domain.scores.evaluation import Evaluation, Repeat, Summary
from labtests.domain.scores.scoring import S1
from labtests.domain.uncertainty.scatter import scatter_of_repeats
from labtests.domain.uncertainty.uncertainty import Calibration
from tests.reference.one_test import uncertainty_of_test

TORQUES = [Point(2.0, 2.01), Point(6.0, 6.04), Point(10.0, 10.05), Point(14.0, 14.10)]
FORCES = [Point(100.0, 100.5), Point(300.0, 300.2), Point(500.0, 501.9), Point(700.0, 701.4)]


def effects_by_name(points, use):
    found = fit_effects("force", "N", fit_points(points), use, 7)
    return {effect.component.source.partition(": ")[2]: effect for effect in found}


def evaluation(zero_offset=0.02):
    repeats = tuple(Repeat(n, 5.1 + n / 100, zero_offset, 5.9 + n / 50, 0.0, 1.3 + n / 200) for n in (1, 2, 3))
    means = Summary(3, 5.12, 0.01), Summary(3, 5.94, 0.02), Summary(3, 1.31, 0.005)
    return Evaluation(repeats, *means, None, False, ())


def budget_of(points, *, zero_offset=0.02, quantity="torque"):
    known = [Calibration(name, 0.01, 0.01) for name in ("torque", "displacement", "angle", "force")]
    known = [
        Calibration(quantity, 0.01, 0.01, number=3, fit=fit_points(points)) if each.quantity == quantity else each
        for each in known
    ]
    given = evaluation(zero_offset)
    return uncertainty_of_test(given, scatter_of_repeats(given.repeats), known, model=S1)


def test_points_on_a_line_give_it_without_doubt():
    fit = fit_points([Point(r, 0.5 + 1.002 * r) for r in (0.0, 100.0, 250.0, 400.0)])
    assert (fit.n, fit.df) == (4, 2)
    assert (fit.zero, fit.gain) == (pytest.approx(0.5), pytest.approx(1.002))
    assert (fit.zero_u, fit.gain_u, fit.non_linearity) == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)
    assert fit.error_at(200.0) == pytest.approx(0.9)


def test_what_was_left_counts_and_not_what_was_found():
    adjusted = fit_points([Point(r, 1.05 * r, r) for r in (0.0, 200.0, 400.0)])
    assert (adjusted.zero, adjusted.gain) == pytest.approx((0.0, 1.0), abs=1e-12)


@pytest.mark.parametrize("points", [[], TORQUES[:1], TORQUES[:2], [Point(5.0, 5.1)] * 3])
def test_too_few_points_leave_the_single_figure(points):
    assert fit_points(points) is None


@given(st.floats(0.0, 900.0))
def test_centre_and_gain_carry_the_correlation_of_zero_and_gain(at):
    """The two independent sources give what zero, gain and their correlation give (GUM, equation 16)."""
    fit = fit_points(FORCES)
    found = effects_by_name(FORCES, Use((1.0, 0.0, 0.0), at, is_difference=False))
    parts = [found[name] for name in ("zero", "gain") if name in found]
    variance = sum((each.component.u * each.sensitivities[0]) ** 2 for each in parts)
    joint = 2.0 * at * fit.correlation * fit.zero_u * fit.gain_u
    assert variance == pytest.approx(fit.zero_u**2 + (at * fit.gain_u) ** 2 + joint, rel=1e-6, abs=1e-12)


def test_a_zero_that_is_subtracted_cancels_and_the_gain_acts_on_the_difference():
    fit = fit_points(TORQUES)
    found = effects_by_name(TORQUES, Use((1.0, 0.0, 0.0), 5.0, is_difference=True))
    assert list(found) == ["gain", "linearity", "known error"]
    gain, error = found["gain"], found["known error"]
    assert gain.component.u * gain.sensitivities[0] == pytest.approx(5.0 * fit.gain_u)
    assert error.component.u * error.sensitivities[0] == pytest.approx(5.0 * (fit.gain - 1.0))
    assert (gain.component.unit, gain.component.df, gain.component.calibration) == ("%", 2.0, 7)


def test_a_shifted_scale_changes_nothing_where_the_zero_cancels():
    use = Use((1.0, 0.5, 0.1), 5.0, is_difference=True)
    plain = effects_by_name(TORQUES, use)
    shifted = effects_by_name([Point(p.reference, p.found + 3.0) for p in TORQUES], use)
    for name, effect in plain.items():
        assert shifted[name].component.u == pytest.approx(effect.component.u, abs=1e-12)
        assert shifted[name].sensitivities == pytest.approx(effect.sensitivities)


def test_the_gain_is_found_by_simulation_of_the_two_readings():
    """Second witness: calibrate a rig with scatter again and again, and measure the same difference with it."""
    rng = np.random.default_rng(8)
    references = np.array([2.0, 6.0, 10.0, 14.0])
    # A rig without any error: what it is corrected by is then all scatter of the calibration.
    errors = rng.normal(0.0, 0.02, (4000, 4))
    gains = [fit_points([Point(r, r + e) for r, e in zip(references, row, strict=True)]).gain for row in errors]
    assert 5.0 * np.std(gains) == pytest.approx(5.0 * 0.02 / math.sqrt(np.sum((references - 8.0) ** 2)), rel=0.05)


def test_the_budget_names_what_the_certificate_leaves_open():
    result = budget_of(TORQUES).scores["stability"]
    rows = {row.source: row for row in result.budget}
    assert "torque, calibration" not in rows
    for name in ("standard", "gain", "linearity", "known error"):
        assert rows[f"torque, calibration: {name}"].calibration == 3
    assert "torque, calibration: zero" not in rows
    assert "angle, calibration" in rows
    assert result.u > budget_of([]).scores["stability"].u


def test_the_zero_counts_where_a_file_does_not_subtract_it():
    rows = {row.source: row for row in budget_of(TORQUES, zero_offset=None).scores["midfoot"].budget}
    assert rows["torque, calibration: zero"].contribution > 0.0


@pytest.mark.parametrize(
    ("quantity", "score", "other"), [("displacement", "rearfoot", "midfoot"), ("force", "rearfoot", "midfoot")]
)
def test_other_quantities_act_on_their_own_scores(quantity, score, other):
    points = FORCES if quantity == "force" else TORQUES
    scores = budget_of(points, quantity=quantity).scores
    assert any(row.source == f"{quantity}, calibration: gain" for row in scores[score].budget)
    assert not any(row.source.startswith(f"{quantity}, calibration:") for row in scores[other].budget)
    # A displacement that reads 1 % too far moves deflection and work alike, its zero neither.
    names = [row.source for row in scores["cushioning"].budget]
    assert (f"{quantity}, calibration: zero" in names) == (quantity == "force")
