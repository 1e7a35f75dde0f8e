"""Overuse score: four answers, a total, and what counts as substantial."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.people.overuse import ANSWERS, QUESTIONS, overuse_score

four = st.lists(st.sampled_from(ANSWERS), min_size=4, max_size=4)


@given(four)
def test_total_lies_between_0_and_100_and_is_the_sum(answers):
    score = overuse_score(answers)
    assert 0 <= score.total <= 100
    assert score.total == sum(answers)
    assert list(score.answers) == answers


@given(four, st.sampled_from(ANSWERS))
def test_pain_alone_never_makes_a_problem_substantial(answers, pain):
    assert overuse_score([*answers[:3], pain]).substantial == overuse_score(answers).substantial


@pytest.mark.parametrize(
    ("answers", "error"),
    [
        ([0, 0, 0], ValueError),
        ([0] * 5, ValueError),
        ([0, 13, 0, 0], ValueError),
        ([0, 0, 0, True], TypeError),
        ([0, 0, "8", 0], TypeError),
    ],
)
def test_anything_but_four_of_the_four_values_is_refused(answers, error):
    with pytest.raises(error, match="overuse"):
        overuse_score(answers)


def test_each_question_has_words_for_each_answer():
    assert len(QUESTIONS) == 4
    assert all(len(words) == len(ANSWERS) for _, words in QUESTIONS)
