"""Time, distance and shoes at risk, complaint by complaint: the plain and slow way, by hand."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.reference.person_time import Answered, Fitted, Part, parts_of

START = date(2025, 1, 1)
HEEL, KNEE = ("heel", "left"), ("front_of_knee", "left")


def fitted(*places, week=0, now=False):
    return Fitted(START + timedelta(weeks=week), tuple((place, now) for place in places or (HEEL,)))


def answered(week, *, km=20.0, pains=(), nothing=True):
    return Answered(START + timedelta(weeks=week), km, tuple(pains), None if pains else nothing)


def back(week, place=HEEL, **more):
    return answered(week, pains=[(place, 5)], **more)


def test_time_runs_from_the_choice_to_the_last_answer():
    found = parts_of([fitted()], [answered(6, km=30.0), answered(2)])
    assert found == [Part(0, HEEL, 0, 42, 42, pytest.approx(2 * 20.0 + 4 * 30.0), False)]


def test_time_ends_with_the_first_recurrence_which_began_after_the_last_free_day():
    found = parts_of([fitted()], [answered(2), back(6), back(12)])
    assert found == [Part(0, HEEL, 0, 14, 42, pytest.approx(120.0), True)]


def test_a_distance_that_is_not_known_is_not_made_up():
    (part,) = parts_of([fitted()], [answered(2, km=None), answered(4)])
    assert (part.days, part.km) == (28, None)


def test_pain_there_at_the_choice_is_at_risk_only_once_it_is_gone():
    answers = [back(2), answered(6), back(12)]
    assert parts_of([fitted(now=True)], answers) == [Part(0, HEEL, 0, 0, 42, pytest.approx(120.0), True)]


@pytest.mark.parametrize(
    ("fitting", "answers"),
    [
        (fitted(), []),
        (fitted(now=True), [back(2)]),
        (fitted(now=True), [answered(2)]),
        (fitted(), [answered(6, nothing=None)]),
    ],
)
def test_of_whom_nothing_is_known_there_is_no_time(fitting, answers):
    assert parts_of([fitting], answers) == []


def test_pain_named_elsewhere_says_nothing_of_a_complaint():
    (part,) = parts_of([fitted()], [answered(2), back(6, KNEE)])
    assert part.days == 14


def test_complaints_are_followed_each_by_itself():
    found = parts_of([fitted(HEEL, KNEE)], [answered(2), back(6)])
    assert [(part.place, part.days, part.recurred) for part in found] == [(KNEE, 14, False), (HEEL, 42, True)]


def test_a_second_shoe_carries_the_course_on():
    first, second = fitted(), fitted(week=4)
    found = parts_of([first, second], [answered(2), answered(6), back(12)])
    assert [(part.fitting, part.entered, part.days, part.recurred) for part in found] == [
        (0, 0, 28, False),
        (1, 28, 84, True),
    ]


weeks = st.lists(st.integers(1, 60), min_size=1, max_size=6, unique=True)


@given(weeks, st.randoms())
def test_the_order_in_which_answers_are_given_does_not_matter(when, shuffler):
    answers = [back(week, km=week) if week % 7 == 0 else answered(week, km=week) for week in when]
    shuffled = list(answers)
    shuffler.shuffle(shuffled)
    assert parts_of([fitted()], answers) == parts_of([fitted()], shuffled)


@given(weeks)
def test_a_steady_distance_adds_up_to_the_time(when):
    (part,) = parts_of([fitted()], [answered(week) for week in when])
    assert part.days == max(when) * 7
    assert part.km == pytest.approx(part.days / 7 * 20.0)
