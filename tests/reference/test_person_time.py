"""Time and distance at risk, person by person."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.reference.person_time import AtRisk, Report, time_at_risk

START = date(2025, 1, 1)


def report(week, *, km=20.0, free=True, recurred=False):
    return Report(START + timedelta(weeks=week), km, free, recurred)


def test_time_runs_from_the_choice_to_the_last_answer():
    found = time_at_risk(START, has_past=True, reports=[report(6, km=30.0), report(2)])
    assert found == AtRisk(42, 2 * 20.0 + 4 * 30.0, False)


def test_time_ends_with_the_first_recurrence():
    reports = [report(2), report(6, free=False, recurred=True), report(12, free=False, recurred=True)]
    assert time_at_risk(START, has_past=True, reports=reports) == AtRisk(42, 120.0, True)


def test_distance_told_at_the_fitting_stands_in_where_none_is_told():
    reports = [report(2, km=None), report(4)]
    assert time_at_risk(START, has_past=True, reports=reports, distance_km_week=10.0).km == 60.0
    assert time_at_risk(START, has_past=True, reports=reports).km is None


def test_pain_there_at_the_choice_is_at_risk_only_once_it_is_gone():
    reports = [report(2, free=False), report(6), report(12, free=False, recurred=True)]
    assert time_at_risk(START, has_past=False, reports=reports) == AtRisk(42, 120.0, True)


def test_who_is_never_at_risk_has_no_time():
    assert time_at_risk(START, has_past=True, reports=[]) is None
    assert time_at_risk(START, has_past=False, reports=[report(2, free=False)]) is None
    assert time_at_risk(START, has_past=False, reports=[report(2)]) is None
    assert time_at_risk(START, has_past=True, reports=[report(0), report(-1)]) is None


def test_a_distance_of_no_days_need_not_be_known():
    reports = [report(2), report(2, km=None), report(4)]
    assert time_at_risk(START, has_past=True, reports=reports) == AtRisk(28, 80.0, False)


def test_time_after_the_last_answer_about_the_complaints_was_not_watched():
    reports = [report(2), report(6, free=None), report(12, free=None)]
    assert time_at_risk(START, has_past=True, reports=reports) == AtRisk(14, 40.0, False)
    assert time_at_risk(START, has_past=True, reports=reports[1:]) is None
    assert time_at_risk(START, has_past=False, reports=reports[1:]) is None


def test_an_answer_without_pain_still_gives_its_distance():
    reports = [report(2, km=10.0, free=None), report(6, km=20.0)]
    assert time_at_risk(START, has_past=True, reports=reports) == AtRisk(42, 100.0, False)


weeks = st.lists(st.integers(1, 60), min_size=1, max_size=6, unique=True)


@given(weeks, st.randoms())
def test_the_order_in_which_answers_are_kept_does_not_matter(when, shuffler):
    reports = [report(week, km=week, recurred=week % 7 == 0) for week in when]
    shuffled = list(reports)
    shuffler.shuffle(shuffled)
    assert time_at_risk(START, has_past=True, reports=reports) == time_at_risk(START, has_past=True, reports=shuffled)


@given(weeks)
def test_a_steady_distance_adds_up_to_the_time(when):
    found = time_at_risk(START, has_past=True, reports=[report(week) for week in when])
    assert found.km == pytest.approx(found.days / 7 * 20.0)
    assert found.days == max(when) * 7
