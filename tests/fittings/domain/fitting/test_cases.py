"""Sets of drawn cases: every grade is asked for, no angle is on a border, and answers score by the cut-offs."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.fitting.angles import Point, rearfoot_eversion_deg
from fittings.domain.fitting.grading import G1, MEASURED, grade_of
from fittings.domain.fitting.grading_cases import CLEAR_DEG, PER_SIGN, Case, case_score, cases_drawn

NARROW = replace(G1, name="narrow", pronation=(5.0, 5.5, 6.5))


@given(st.integers(0, 2**62), st.sampled_from([G1, NARROW]))
def test_every_grade_of_every_sign_is_drawn_clear_of_the_cutoffs(seed, cutoffs):
    cases = cases_drawn(np.random.default_rng(seed), cutoffs)
    assert Counter(case.sign for case in cases) == dict.fromkeys(MEASURED, PER_SIGN)
    for sign in MEASURED:
        angles = [case.degrees for case in cases if case.sign == sign]
        assert {grade_of(sign, angle, cutoffs) for angle in angles} == {0, 1, 2, 3}
        if cutoffs is G1:
            assert min(abs(angle - begin) for angle in angles for begin in getattr(cutoffs, sign)) > CLEAR_DEG - 0.06


def test_same_seed_same_set_and_another_seed_another():
    one, again, other = (cases_drawn(np.random.default_rng(seed), G1) for seed in (5, 5, 6))
    assert one == again != other


CASES = [Case("pronation", "left", angle) for angle in (2.0, 8.0, 12.0, 20.0)]


@pytest.mark.parametrize(
    ("answers", "right", "near", "kappa"),
    [
        ([0, 1, 2, 3], 4, 0, 1.0),
        ([1, 2, 3, 3], 1, 3, None),
        ([3, 2, 1, 0], 0, 2, -1.0),
        ([0, 0, 0, 0], 1, 1, 0.0),
    ],
)
def test_answers_are_scored_by_the_cutoffs(answers, right, near, kappa):
    score = case_score(CASES, answers, G1)
    assert (score.standard, score.cases, score.right, score.near) == ((0, 1, 2, 3), 4, right, near)
    if kappa is not None:
        assert score.kappa.kappa == pytest.approx(kappa)


@pytest.mark.parametrize("answers", [[], [0, 1, 2], [0, 1, 2, 4], [0, 1, 2, -1]])
def test_a_grade_for_every_case(answers):
    with pytest.raises(ValueError, match="answers must be"):
        case_score(CASES, answers, G1)


@pytest.mark.parametrize("foot", ["left", "right"])
@pytest.mark.parametrize("degrees", [-3.0, 0.0, 7.5, 15.0])
def test_drawing_has_the_angle_that_it_is_of(foot, degrees):
    from fittings.presentation.fitting.cases import case_drawing

    for sign, lean in (("pronation", 0.0), ("rearfoot_eversion", 0.0)):
        (leg, heel) = case_drawing(Case(sign, foot, degrees)).lines
        x1, y1, x2, y2, *rest = map(float, (*leg, *heel))
        marks = (Point(x1, y1), Point(x2, y2), Point(rest[0], rest[1]), Point(rest[2], rest[3]))
        assert rearfoot_eversion_deg(marks, foot) == pytest.approx(degrees + lean, abs=0.05)
    upright = [float(part) for part in case_drawing(Case("rearfoot_eversion", foot, degrees)).lines[0]]
    assert upright[0] == upright[2]
