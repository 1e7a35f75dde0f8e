"""Scores: the practice's check value, the anchors, and the laws of a straight scale."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.domain.units import to_si
from labtests.domain.scores.scoring import S1, estimated_work_j, score, stability_points


def test_scores_worked_out_by_hand():
    # 45 of 80 in·lbf and (10 - 5.9) of 7 mm; the work of a straight curve is 0.444822 * 5.9 / 2 J.
    scores = score(to_si(45.0, "in*lbf", quantity="torque"), 5.9, estimated_work_j(5.9), model=S1)
    assert scores.midfoot == pytest.approx(56.25, abs=1e-4)
    assert scores.rearfoot == pytest.approx(58.571429, abs=1e-6)
    assert scores.cushioning == pytest.approx(100 * (0.444822 * 2.95 - 0.667233) / 1.556877, abs=1e-4)
    assert scores.stability == pytest.approx(0.54 * 56.25 + 0.46 * 58.571429, abs=1e-4)


def test_points_of_stability_in_a_unit_of_a_reading_are_the_scores_own_slopes():
    torque, deflection = stability_points(S1)
    one = score(5.1, 5.9, 1.3, model=S1).stability
    assert score(5.6, 5.9, 1.3, model=S1).stability - one == pytest.approx(0.5 * torque)
    assert score(5.1, 6.3, 1.3, model=S1).stability - one == pytest.approx(-0.4 * deflection)


@pytest.mark.parametrize(
    ("torque", "deflection", "work", "expected"), [(0, 10, 0.667233, 0), (9.038783, 3, 2.22411, 100)]
)
def test_anchors_score_0_and_100(torque, deflection, work, expected):
    scores = score(torque, deflection, work, model=S1)
    for value in dataclasses.astuple(scores):
        assert value == pytest.approx(expected, abs=1e-9)


def test_scores_are_not_clipped():
    scores = score(12.0, 2.0, 3.0, model=S1)
    assert min(scores.midfoot, scores.rearfoot, scores.cushioning) > 100
    assert score(-1.0, 12.0, 0.1, model=S1).stability < 0


def test_arrays_are_scored_at_once_and_nan_stays_missing():
    scores = score(np.array([5.1, np.nan]), np.array([5.9, 5.9]), np.array([1.5, 1.5]), model=S1)
    assert scores.midfoot[0] == pytest.approx(score(5.1, 5.9, 1.5, model=S1).midfoot)
    assert np.isnan(scores.stability[1])


@given(st.floats(0, 15), st.floats(0.001, 5), st.floats(1, 15))
def test_stiffer_shoes_score_higher_on_stability(torque, more, deflection):
    plain = score(torque, deflection, 1.5, model=S1).stability
    assert score(torque + more, deflection, 1.5, model=S1).stability > plain
    assert score(torque, deflection + more, 1.5, model=S1).stability < plain


@given(st.floats(1, 12), st.floats(1, 12))
def test_estimated_work_is_straight_in_deflection(one, other):
    assert estimated_work_j(one + other) == pytest.approx(estimated_work_j(one) + estimated_work_j(other))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"torque_0_nm": 9.038783}, "torque anchors"),
        ({"work_100_j": float("nan")}, "work anchors"),
        ({"weight_midfoot": 0.6}, "weights must"),
        ({"weight_midfoot": 1.5, "weight_rearfoot": -0.5}, "weights must"),
    ],
)
def test_model_that_is_no_scale_is_refused(change, words):
    with pytest.raises(ValueError, match=words):
        dataclasses.replace(S1, **change)
