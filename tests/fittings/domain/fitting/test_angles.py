"""Angles and heights from marks: drawn figures of known angle, turned, scaled and mirrored."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.fitting.angles import (
    KINDS,
    LINE_LEAST_PX,
    Marks,
    Point,
    ankle_dorsiflexion_deg,
    measured_twice,
    navicular_drop_mm,
    rearfoot_eversion_deg,
    repeat_error,
)
from fittings.domain.fitting.marks import marks_from_data


def line(x, y, degrees, length):
    """A line that points down and leans to the right by so many degrees."""
    radians = math.radians(degrees)
    return Point(x, y), Point(x + length * math.sin(radians), y + length * math.cos(radians))


def rear(degrees, *, leg=0.0):
    """The marks of a right foot seen from behind."""
    return (*line(200, 50, leg, 300), *line(200, 360, leg + degrees, 120))


def turned(reading, degrees, scale=1.0):
    cos, sin = (scale * part(math.radians(degrees)) for part in (math.cos, math.sin))
    return tuple(Point(cos * p.x - sin * p.y, sin * p.x + cos * p.y) for p in reading)


def mirrored(reading):
    return tuple(Point(-p.x, p.y) for p in reading)


@pytest.mark.parametrize("degrees", [-12.0, 0.0, 3.0, 8.5, 20.0])
def test_heel_that_points_outward_is_everted_on_either_foot(degrees):
    assert rearfoot_eversion_deg(rear(degrees, leg=4.0), "right") == pytest.approx(degrees)
    assert rearfoot_eversion_deg(mirrored(rear(degrees, leg=4.0)), "left") == pytest.approx(degrees)
    assert rearfoot_eversion_deg(mirrored(rear(degrees)), "right", mirrored=True) == pytest.approx(degrees)


ANGLE, TURN, SCALE = st.floats(-25, 40), st.floats(-180, 180), st.floats(0.5, 4)


@given(ANGLE, TURN, SCALE)
def test_neither_turn_nor_size_of_the_picture_matters(degrees, turn, scale):
    assert rearfoot_eversion_deg(turned(rear(degrees), turn, scale), "right") == pytest.approx(degrees, abs=1e-6)
    side = (*line(300, 50, 0, 300), Point(280, 380), Point(480, 380))
    leaning = (*line(300, 50, -degrees, 300), *side[2:])
    assert ankle_dorsiflexion_deg(turned(leaning, turn, scale)) == pytest.approx(degrees, abs=1e-6)
    assert ankle_dorsiflexion_deg(mirrored(leaning)) == pytest.approx(degrees, abs=1e-6)


def test_each_picture_of_the_navicular_has_its_own_scale():
    sit = Point(0, 300), Point(0, 180), Point(50, 300), Point(50, 200)  # 120 px at 0.5 mm a px: 60 mm
    stand = Point(0, 600), Point(0, 400), Point(90, 600), Point(90, 400)  # 200 px at 0.25 mm a px: 50 mm
    assert navicular_drop_mm((*sit, *stand), 50.0) == pytest.approx(10.0)
    assert navicular_drop_mm((*stand, *sit), 50.0) == pytest.approx(-10.0)


@pytest.mark.parametrize("known", [9.9, 1000.1, math.nan, math.inf])
def test_known_length_out_of_range(known):
    with pytest.raises(ValueError, match="known_mm must be a number from 10 to 1000"):
        navicular_drop_mm(tuple(Point(0, 50.0 * at) for at in range(8)), known)


def test_mean_and_distance_of_two_readings():
    found = measured_twice(Marks("rearfoot_eversion", (rear(6.0), rear(9.0))), "right")
    assert (found.mean, found.apart) == (pytest.approx(7.5), pytest.approx(3.0))
    with pytest.raises(ValueError, match="taken twice"):
        measured_twice(Marks("rearfoot_eversion", (rear(6.0),)), "right")
    with pytest.raises(ValueError, match="Rearfoot eversion must be a number from −30 to 45"):
        measured_twice(Marks("rearfoot_eversion", (rear(50.0), rear(50.0))), "right")
    with pytest.raises(ValueError, match="known length"):
        measured_twice(Marks("navicular_drop", (rear(1.0) * 2, rear(1.0) * 2)), "left")


def test_marks_too_close_or_too_few_are_refused():
    close = (Point(0, 0), Point(0, LINE_LEAST_PX - 0.1), *rear(0.0)[2:])
    for measure in (lambda: rearfoot_eversion_deg(close, "left"), lambda: ankle_dorsiflexion_deg(close)):
        with pytest.raises(ValueError, match="too close"):
            measure()
    with pytest.raises(ValueError, match="4 marks, got 3"):
        rearfoot_eversion_deg(rear(0.0)[:3], "left")
    with pytest.raises(ValueError, match="left or right"):
        rearfoot_eversion_deg(rear(0.0), "both")
    just = (Point(0, 0), Point(0, LINE_LEAST_PX), *rear(0.0)[2:])
    assert rearfoot_eversion_deg(just, "left") == 0.0


def test_repeat_error_of_pairs_is_that_of_a_single_reading():
    # Pairs 1.0 and 3.0 apart: variances 0.5 and 4.5, on average 2.5.
    assert repeat_error([1.0, 3.0]) == pytest.approx(math.sqrt(2.5))
    assert repeat_error([]) is None
    assert repeat_error([0.0]) == 0.0


def as_data(reading):
    return [[p.x, p.y] for p in reading]


def test_marks_come_as_plain_data():
    data = {"rearfoot_eversion": {"readings": [as_data(rear(5.0)), as_data(rear(7.0))], "mirrored": True}}
    (marks,) = marks_from_data(data)
    assert (marks.kind, marks.mirrored, marks.known_mm, len(marks.readings)) == ("rearfoot_eversion", True, None, 2)
    assert measured_twice(marks, "left").mean == pytest.approx(6.0)


@pytest.mark.parametrize(
    "data",
    [
        [],
        None,
        {"lean": {"readings": []}},
        {"rearfoot_eversion": []},
        {"rearfoot_eversion": {}},
        {"rearfoot_eversion": {"readings": [[[0, 0]] * 3]}},
        {"rearfoot_eversion": {"readings": [[[0, 0]] * 4] * 3}},
        {"rearfoot_eversion": {"readings": [[[0, 0], [0, True], [1, 1], [2, 2]]]}},
        {"rearfoot_eversion": {"readings": [[[0, 0], [0], [1, 1], [2, 2]]]}},
        {"rearfoot_eversion": {"readings": [[[0, 0], [0, 1e9], [1, 1], [2, 2]]]}},
        {"rearfoot_eversion": {"readings": [[[0, 0], [0, math.nan], [1, 1], [2, 2]]]}},
        {"navicular_drop": {"readings": [], "known_mm": "100"}},
        {"navicular_drop": {"readings": [], "known_mm": -1}},
    ],
)
def test_what_is_no_mark_is_refused(data):
    with pytest.raises((TypeError, ValueError)):
        marks_from_data(data)


def test_every_measure_names_its_marks_and_a_unit():
    assert {kind.unit for kind in KINDS.values()} == {"°", "mm"}
    assert {len(kind.marks) for kind in KINDS.values()} == {4, 8}
