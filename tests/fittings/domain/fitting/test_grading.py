"""Degrees become grades by named cut-offs, edges belonging to the higher grade."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.fitting.grading import G1, MEASURED, cutoffs_from_data, cutoffs_to_data, grade_of

ANGLES = st.floats(-30, 45)


@pytest.mark.parametrize(
    ("observation", "degrees", "grade"),
    [
        # The cut-offs are common practice, no source; what is checked is that an edge begins its grade.
        ("pronation", -5, 0),
        ("pronation", 5.9, 0),
        ("pronation", 6, 1),
        ("pronation", 10, 2),
        ("pronation", 13.99, 2),
        ("pronation", 14, 3),
        ("tibial_rotation", 45, 3),
        ("rearfoot_eversion", 3, 1),
        ("rearfoot_eversion", 8.9, 2),
        ("rearfoot_eversion", 9, 3),
    ],
)
def test_an_angle_has_its_grade(observation, degrees, grade):
    assert grade_of(observation, degrees) == grade


@given(st.sampled_from(MEASURED), ANGLES, ANGLES)
def test_a_larger_angle_never_has_a_lower_grade(observation, one, other):
    low, high = sorted((one, other))
    assert 0 <= grade_of(observation, low) <= grade_of(observation, high) <= 3


@pytest.mark.parametrize("degrees", [-30.1, 45.1, float("nan"), float("inf")])
def test_an_impossible_angle_is_refused_by_name(degrees):
    with pytest.raises(ValueError, match="pronation_deg must be a number from −30 to 45"):
        grade_of("pronation", degrees)


def test_what_is_no_angle_or_no_observation_is_refused():
    with pytest.raises(TypeError, match="rearfoot_eversion_deg"):
        grade_of("rearfoot_eversion", True)
    with pytest.raises(ValueError, match="observation must be one of"):
        grade_of("fpi6", 3)


def test_cutoffs_survive_json():
    assert cutoffs_from_data(json.loads(json.dumps(cutoffs_to_data(G1)))) == G1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"extra": 1}, "differs in extra"),
        ({"name": " "}, "name must be a text"),
        ({"name": 3}, "name must be a text"),
        ({"pronation": [1, 2]}, "pronation must be the 3 angles"),
        ({"pronation": "abc"}, "pronation must be the 3 angles"),
        ({"rearfoot_eversion": [3, 3, 9]}, "must rise"),
        ({"tibial_rotation": [1, 2, 99]}, "tibial_rotation cut-off must be"),
    ],
)
def test_bad_data_is_refused_by_name(change, words):
    with pytest.raises(ValueError, match=words):
        cutoffs_from_data(cutoffs_to_data(G1) | change)


def test_own_cutoffs_are_followed():
    own = replace(G1, name="own", pronation=(1.0, 2.0, 3.0))
    assert grade_of("pronation", 2.5, own) == 2
