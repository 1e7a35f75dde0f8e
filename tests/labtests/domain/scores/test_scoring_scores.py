"""Scores: the practice's check value, the anchors, and the laws of a straight scale."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.domain.units import to_si
from labtests.domain.scores.scoring import S1, estimated_work_j, score


def test_check_value_of_the_practice():
    # Common practice, no source: 40 in·lbf at 15° and 6.82 mm at 100 lbf.
    scores = score(to_si(40.0, "in*lbf", quantity="torque"), 6.82, estimated_work_j(6.82), model=S1)
    assert round(scores.midfoot, 1) == 50.0
    assert round(scores.rearfoot, 2) == 45.43
    assert round(scores.stability, 1) == 47.9


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
    scores = score(np.array([4.5, np.nan]), np.array([6.8, 6.8]), np.array([1.5, 1.5]), model=S1)
    assert scores.midfoot[0] == pytest.approx(score(4.5, 6.8, 1.5, model=S1).midfoot)
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
