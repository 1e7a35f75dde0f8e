from __future__ import annotations

import itertools
import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.stability_scale import (
    GAP_PX,
    Limits,
    Point,
    Zone,
    assign_lanes,
    axis_range,
    layout,
    name_sides,
)

BANDS = [
    Limits(1, None, 50.0),
    Limits(2, 50.0, 60.0),
    Limits(3, 60.0, 70.0),
    Limits(4, 70.0, 80.0),
    Limits(5, 80.0, None),
]

points_of_shoes = st.lists(st.tuples(st.floats(-20, 140), st.none() | st.floats(0, 15)), min_size=1, max_size=120).map(
    lambda found: [Point(f"shoe-{index}", score, u) for index, (score, u) in enumerate(found)]
)


def reach(mark, radius):
    low = mark.along - radius if mark.low is None else min(mark.low, mark.along - radius)
    high = mark.along + radius if mark.high is None else max(mark.high, mark.along + radius)
    return low, high


def depth(intervals):
    """Most intervals that meet at one place, counted at every start."""
    return max(sum(low <= start < high for low, high in intervals) for start, _ in intervals)


def test_one_shoe_is_where_its_score_is():
    drawn = layout([Point("a", 55.0, 2.0)], BANDS, 1000.0)
    mark = drawn.marks[0]
    # Axis from 44 (50 − 6) to 86 (80 + 6): 42 points over 1000 px.
    assert (drawn.low, drawn.high) == (44.0, 86.0)
    assert mark.along == pytest.approx((55 - 44) / 42 * 1000)
    assert mark.high - mark.low == pytest.approx(4 / 42 * 1000)
    assert mark.lane == 0
    assert drawn.lanes == 1


def test_no_shoe_gives_an_empty_drawing_of_the_bands():
    drawn = layout([], BANDS)
    assert drawn.marks == ()
    assert (drawn.lanes, drawn.depth) == (0, 0.0)
    assert [zone.order for zone in drawn.zones] == [1, 2, 3, 4, 5]


def test_no_shoe_and_no_band_is_drawn_from_0_to_100():
    drawn = layout([], [])
    assert (drawn.low, drawn.high, drawn.zones) == (0.0, 100.0, ())


def test_zones_cover_the_axis_without_gap():
    zones = layout([Point("a", 30.0)], BANDS, 800.0).zones
    assert zones[0].start == 0.0
    assert zones[-1].end == 800.0
    assert all(left.end == right.start for left, right in itertools.pairwise(zones))


def test_zone_knows_its_middle_and_length():
    assert (Zone(1, 10.0, 30.0).middle, Zone(1, 10.0, 30.0).length) == (20.0, 20.0)


def test_unknown_uncertainty_draws_no_whisker():
    mark = layout([Point("a", 55.0)], BANDS).marks[0]
    assert mark.low is None
    assert mark.high is None


def test_whisker_beyond_the_axis_ends_at_its_edge():
    mark = layout([Point("a", 55.0, 500.0)], BANDS, 1000.0).marks[0]
    assert (mark.low, mark.high) == (0.0, 1000.0)


def test_whiskers_do_not_stretch_the_axis():
    known, unknown = (layout([Point("a", 55.0, u)], BANDS) for u in (500.0, None))
    assert (known.low, known.high) == (unknown.low, unknown.high) == axis_range([55.0], BANDS)


def test_axis_can_be_that_of_more_shoes():
    drawn = layout([Point("a", 55.0)], BANDS, 1000.0, axis_range([20.0, 55.0, 110.0], BANDS))
    assert (drawn.low, drawn.high) == (14.0, 116.0)
    assert drawn.marks[0].along == pytest.approx((55.0 - 14.0) / 102.0 * 1000.0)


def test_equal_scores_are_stacked_by_key():
    drawn = layout([Point("b", 55.0), Point("a", 55.0), Point("c", 55.0)], BANDS)
    assert [(mark.key, mark.lane) for mark in drawn.marks] == [("a", 0), ("b", 1), ("c", 2)]


@given(points_of_shoes)
def test_marks_of_a_lane_never_meet(points):
    drawn = layout(points, BANDS)
    for lane in range(drawn.lanes):
        spans = sorted(reach(mark, drawn.radius) for mark in drawn.marks if mark.lane == lane)
        assert all(left[1] + GAP_PX <= right[0] + 1e-9 for left, right in itertools.pairwise(spans))


@given(points_of_shoes, st.lists(st.floats(10, 120), min_size=120, max_size=120))
def test_names_meet_neither_marks_nor_each_other(points, lengths):
    drawn = layout(points, BANDS, 1000.0)
    widths = {point.key: length for point, length in zip(points, lengths, strict=False)}
    sides = name_sides(drawn, widths)
    for lane in range(drawn.lanes):
        taken = []
        for mark in drawn.marks:
            if mark.lane == lane:
                low, high = reach(mark, drawn.radius)
                taken.append((low, high))
                if (side := sides.get(mark.key)) is not None:
                    taken.append((high, high + widths[mark.key]) if side == 1 else (low - widths[mark.key], low))
        ordered = sorted(taken)
        assert all(second >= first - 1e-9 for (_, first), (second, _) in itertools.pairwise(ordered))


@given(points_of_shoes)
def test_no_drawing_could_do_with_fewer_lanes(points):
    drawn = layout(points, BANDS)
    spans = [(low - GAP_PX / 2, high + GAP_PX / 2) for low, high in (reach(mark, drawn.radius) for mark in drawn.marks)]
    assert drawn.lanes == depth(spans)


@given(points_of_shoes, st.randoms(use_true_random=False))
def test_drawing_does_not_depend_on_the_order_given(points, rng: random.Random):
    shuffled = list(points)
    rng.shuffle(shuffled)
    assert layout(shuffled, BANDS) == layout(points, BANDS)


@given(points_of_shoes)
def test_every_shoe_is_drawn_once_inside_the_drawing(points):
    drawn = layout(points, BANDS)
    assert sorted(mark.key for mark in drawn.marks) == sorted(point.key for point in points)
    assert all(0 <= mark.along <= drawn.length and 0 < mark.across < drawn.depth for mark in drawn.marks)


@pytest.mark.parametrize("count", [5, 60, 61, 200, 201, 500])
def test_any_number_of_shoes_stays_readable(count):
    rng = random.Random(count)
    points = [Point(f"shoe-{index}", rng.gauss(62, 14), rng.uniform(0.5, 2.5)) for index in range(count)]
    drawn = layout(points, BANDS, 960.0)
    assert drawn.radius >= 4
    assert drawn.depth <= 700


def test_ticks_stand_at_their_values_on_round_numbers():
    drawn = layout([Point("a", 12.0), Point("b", 95.0)], BANDS, 950.0)
    assert [tick.value for tick in drawn.ticks] == [10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0]
    assert drawn.ticks[0].along == pytest.approx((10 - 6) / 95 * 950)


def test_very_wide_axis_has_few_ticks_still():
    drawn = layout([Point("a", -5000.0), Point("b", 5000.0)], BANDS)
    assert 8 <= len(drawn.ticks) <= 17


def test_touching_intervals_share_a_lane():
    assert assign_lanes([(0.0, 1.0), (1.0, 2.0)]) == [0, 0]


def test_lowest_free_lane_is_taken():
    assert assign_lanes([(0, 9), (1, 2), (1, 9), (3, 4)]) == [0, 1, 2, 1]


def test_no_interval_needs_no_lane():
    assert assign_lanes([]) == []


@pytest.mark.parametrize(
    ("points", "bands", "length", "words"),
    [
        ([Point("a", math.nan)], BANDS, 100.0, "stability of a must be finite, got nan"),
        ([Point("a", math.inf)], BANDS, 100.0, "stability of a must be finite, got inf"),
        ([Point("a", 50.0, -1.0)], BANDS, 100.0, "expanded_u of a must be >= 0, got -1.0"),
        ([Point("a", 50.0, math.nan)], BANDS, 100.0, "expanded_u of a must be >= 0, got nan"),
        ([], [BANDS[0], BANDS[2]], 100.0, "limits must meet: band 1 ends at 50.0, next starts at 60.0"),
        ([], [BANDS[4], BANDS[0]], 100.0, "limits must meet: band 5 ends at None, next starts at None"),
        ([], BANDS, 0.0, "length must be > 0, got 0.0"),
        ([], BANDS, math.nan, "length must be > 0, got nan"),
    ],
)
def test_bad_input_is_named(points, bands, length, words):
    with pytest.raises(ValueError, match=words.replace("(", r"\(")):
        layout(points, bands, length)
