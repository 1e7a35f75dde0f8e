"""What a certificate may say, and drift between two of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.conditions.calibrations import Certificate, Point, certificate_problems, drift_since
from labtests.domain.files.calibration_points import MAX_POINTS, read_points

TODAY = dt.date(2026, 3, 4)
SOUND = Certificate(dt.date(2026, 1, 12), dt.date(2027, 1, 11), 0.35, 0.1)


def fields(**change):
    return [problem.field for problem in certificate_problems(replace(SOUND, **change), today=TODAY)]


def test_sound_certificate_has_no_problem():
    assert fields() == []
    assert fields(calibrated_on=TODAY, resolution=0.0, range_low=0.0, range_high=1.0, gain=1.0, zero=0.0) == []


def test_every_problem_is_named_at_once():
    assert fields(due_on=dt.date(2126, 1, 1), standard_uncertainty=0.0, range_low=2.0, range_high=2.0) == [
        "due_on",
        "standard_uncertainty",
        "range_high",
    ]


def test_day_of_recording_is_the_last_day_that_can_be():
    assert fields(calibrated_on=TODAY + dt.timedelta(days=1)) == ["calibrated_on"]


def test_due_date_within_five_years_counts_and_the_day_after_does_not():
    last = SOUND.calibrated_on + dt.timedelta(days=5 * 366)
    assert fields(due_on=last) == []
    assert fields(due_on=last + dt.timedelta(days=1)) == ["due_on"]


@given(
    st.lists(st.floats(-50, 50), min_size=2, max_size=8, unique=True),
    st.floats(-2, 2),
    st.floats(-2, 2),
)
def test_constant_shift_of_every_error_is_the_drift_at_every_point(references, before, shift):
    first = replace(SOUND, points=tuple(Point(value, value + before) for value in references))
    second = replace(SOUND, points=tuple(Point(value, value + before + shift) for value in references))
    drifts = drift_since(first, second)
    assert len(drifts) == len(references)
    assert [one.drift for one in drifts] == pytest.approx([shift] * len(references), abs=1e-9)
    assert all(one.is_beyond == (abs(one.drift) > 2 * one.u) for one in drifts)


def test_zero_error_is_used_for_points_that_are_missing():
    (drift,) = drift_since(replace(SOUND, zero=0.1), replace(SOUND, zero=-0.3))
    assert (drift.drift, drift.u) == (pytest.approx(-0.4), pytest.approx(0.35 * 2**0.5))
    assert drift_since(SOUND, replace(SOUND, zero=0.1)) == ()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1", "line 1: write the reference, as found"),
        ("1;2;3;4", "got 4 values"),
        ("1;2\n\n3;x", "line 3, as found: “x” is not a number"),
        ("1;2;inf", "line 1, as left"),
        ("\n".join(f"{number};{number}" for number in range(MAX_POINTS + 1)), "at most 100 points"),
    ],
)
def test_points_that_can_not_be_read_are_named_by_line_and_column(text, words):
    points, problems = read_points(text)
    assert points == ()
    assert any(words in problem for problem in problems)


def test_points_are_read_as_they_are_written():
    points = (Point(0.0, 0.1), Point(400.0, 401.0, 400.1))
    assert read_points("0; 0.1\n\n400; 401; 400.1\n") == (points, ())
    assert read_points("0 0.1\n400,401,400.1\n")[0] == points
