from __future__ import annotations

import math
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.mark_lanes import GAP_PX, in_lanes

homes = st.lists(st.floats(0, 600), max_size=40)


@given(homes)
def test_marks_never_touch_and_stay_in_the_strip(places):
    found = in_lanes(places, radius=4.5, length=600.0, depth=76.0)
    assert len(found) == len(places)
    for x, y in found:
        assert 0 <= x <= 600
        assert 0 <= y <= 76
    for (x1, y1), (x2, y2) in combinations(found, 2):
        assert math.hypot(x1 - x2, y1 - y2) >= 2 * 4.5 + GAP_PX - 1e-6


def test_mark_with_room_is_where_it_belongs():
    assert in_lanes([100.0, 300.0], radius=4.5, length=600.0, depth=76.0) == [(100.0, 38.0), (300.0, 38.0)]


def test_marks_at_the_end_are_pushed_back():
    found = in_lanes([50.0, 50.0], radius=4.25, length=50.0, depth=4.0)
    assert found == [(40.0, 2.0), (50.0, 2.0)]


def test_too_many_marks_for_the_strip_stay_inside_it():
    assert all(0 <= x <= 20 for x, _ in in_lanes([10.0] * 9, radius=4.5, length=20.0, depth=1.0))


def test_equal_homes_keep_their_order():
    found = in_lanes([10.0] * 3, radius=4.25, length=50.0, depth=4.0)
    assert [x for x, _ in found] == [10.0, 20.0, 30.0]


@pytest.mark.parametrize("name", ["radius", "length", "depth"])
@pytest.mark.parametrize("value", [0.0, -1.0, float("nan")])
def test_measures_must_be_above_nothing(name, value):
    with pytest.raises(ValueError, match=f"{name} must be > 0, got"):
        in_lanes([1.0], **({"radius": 4.0, "length": 50.0, "depth": 20.0} | {name: value}))
