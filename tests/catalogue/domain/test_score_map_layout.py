from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.axes import Axis, axis_over
from catalogue.domain.score_map import GAP_PX, Dot, Weights, cells, contour, layout, radii, weights_of

WIDE = Axis(0.0, 100.0, 600.0)
HIGH = Axis(0.0, 100.0, 400.0)

scores = st.floats(0, 100)
dots = st.lists(st.tuples(scores, scores, st.floats(0, 100)), max_size=25).map(
    lambda rows: [Dot(f"shoe-{place:02}", *row, 1.0, None) for place, row in enumerate(rows)]
)


@given(dots)
def test_no_two_marks_touch(held):
    spots = layout(held, WIDE, HIGH).spots
    for one, other in itertools.combinations(spots, 2):
        gap = math.hypot(one.x - other.x, one.y - other.y) - one.radius - other.radius
        assert gap >= GAP_PX - 1e-6


@given(dots)
def test_marks_stay_inside_and_know_where_they_belong(held):
    for dot, spot in zip(held, layout(held, WIDE, HIGH).spots, strict=True):
        assert -1e-9 <= spot.x <= WIDE.length + 1e-9
        assert -1e-9 <= spot.y <= HIGH.length + 1e-9
        assert (spot.home_x, spot.home_y) == (WIDE.along(dot.x), HIGH.along(dot.y))
        assert spot.up is None
        assert spot.across[0] <= spot.home_x <= spot.across[1]


@given(dots, st.randoms())
def test_drawing_does_not_depend_on_the_order_given(held, random):
    by_key = {spot.key: spot for spot in layout(held, WIDE, HIGH).spots}
    mixed = list(held)
    random.shuffle(mixed)
    assert {spot.key: spot for spot in layout(mixed, WIDE, HIGH).spots} == by_key


def test_lonely_mark_stays_where_it_belongs():
    (spot,) = layout([Dot("a", 50.0, 25.0, 9.0)], WIDE, HIGH).spots
    assert (spot.x, spot.y, spot.is_moved) == (300.0, 100.0, False)


def test_small_mark_gives_way_to_a_large_one():
    small, large = layout([Dot("a", 50.0, 50.0, 1.0), Dot("b", 50.0, 50.0, 9.0)], WIDE, HIGH).spots
    assert (small.is_moved, large.is_moved) == (True, False)
    assert small.radius < large.radius


def test_drawing_without_room_leaves_marks_at_home():
    tiny = Axis(0.0, 100.0, 4.0)
    spots = layout([Dot(key, 50.0, 50.0, 1.0) for key in "abc"], tiny, tiny).spots
    assert [spot.is_moved for spot in spots] == [False, False, False]


def test_five_hundred_shoes_in_one_cloud_are_all_apart():
    generator = np.random.default_rng(7)
    held = [
        Dot(str(row), float(x), float(y), float(size))
        for row, (x, y, size) in enumerate(generator.normal((50, 50, 60), (8, 8, 10), (500, 3)))
    ]
    x, y = axis_over([dot.x for dot in held], 900.0), axis_over([dot.y for dot in held], 520.0)
    spots = layout(held, x, y).spots
    at = np.array([(spot.x, spot.y, spot.radius) for spot in spots])
    gaps = np.hypot(at[:, None, 0] - at[None, :, 0], at[:, None, 1] - at[None, :, 1]) - at[:, None, 2] - at[None, :, 2]
    np.fill_diagonal(gaps, np.inf)
    assert gaps.min() >= GAP_PX - 1e-6
    moved = [math.hypot(spot.x - spot.home_x, spot.y - spot.home_y) for spot in spots]
    assert np.median(moved) < 12.0


@pytest.mark.parametrize("name", ["x", "y", "size"])
def test_score_that_is_no_number_is_refused(name):
    values = {"x": 1.0, "y": 1.0, "size": 1.0} | {name: math.nan}
    with pytest.raises(ValueError, match=f"{name} of a must be finite, got nan"):
        layout([Dot("a", **values)], WIDE, HIGH)


@pytest.mark.parametrize(("name", "value"), [("x_u", -1.0), ("y_u", math.inf)])
def test_uncertainty_below_nothing_is_refused(name, value):
    with pytest.raises(ValueError, match=f"{name} of a must be >= 0"):
        layout([Dot("a", 1.0, 1.0, 1.0, **{name: value})], WIDE, HIGH)


def test_area_grows_evenly_with_the_size():
    least, middle, most = radii([10.0, 20.0, 30.0])
    assert middle**2 == pytest.approx((least**2 + most**2) / 2)
    assert radii([5.0, 5.0]) == [4.75, 4.75]
    assert radii([]) == []
    assert max(radii([1.0, 2.0], count=500)) == 5.0


def test_axis_holds_every_value_with_room():
    assert axis_over([], 100.0) == Axis(0.0, 100.0, 100.0)
    one = axis_over([50.0], 100.0)
    assert one.low < 50.0 < one.high
    values = [value for value, _ in axis_over([-3.0, 120.0], 100.0).ticks()]
    assert values == sorted(values)
    assert len(Axis(0.0, 5000.0, 100.0).ticks()) <= 11


@given(
    st.floats(0.1, 0.9),
    st.lists(st.tuples(scores, scores), min_size=3, max_size=20, unique_by=(lambda row: row[0], lambda row: row[1])),
)
def test_weights_are_found_again(weight, rows):
    x, y = np.array(rows).T
    found = weights_of(x, y, weight * x + (1 - weight) * y)
    if found is not None:
        assert (found.of_x, found.of_y) == pytest.approx((weight, 1 - weight), abs=1e-4)


def test_weights_are_not_made_up():
    x, y = np.array([40.0, 60.0, 50.0]), np.array([50.0, 30.0, 70.0])
    assert weights_of(x, y, 0.54 * x + 0.46 * y) is not None
    assert weights_of(x, y, 0.54 * x + 0.46 * y + np.array([0.0, 0.0, 0.1])) is None, "two models at once"
    assert weights_of(x[:1], y[:1], x[:1]) is None
    assert weights_of(x, 2 * x, x) is None, "one score follows the other"


def test_contour_runs_where_the_sum_has_the_value():
    weights = Weights(0.54, 0.46)
    first, last = contour(weights, 60.0, WIDE, HIGH)
    for x, y in (first, last):
        assert weights.of_x * x / 6.0 + weights.of_y * y / 4.0 == pytest.approx(60.0)
    assert contour(weights, 300.0, WIDE, HIGH) is None
    assert contour(Weights(1.0, 0.0), 50.0, WIDE, HIGH) == ((300.0, 0.0), (300.0, 400.0))
    assert contour(Weights(0.0, 1.0), 50.0, WIDE, HIGH) == ((0.0, 200.0), (600.0, 200.0))
    assert contour(Weights(0.5, 0.5), 100.0, Axis(0, 100, 10), Axis(0, 100, 10)) is None, "only a corner"


def test_cells_count_every_shoe_once():
    x, y = np.array([0.0, 99.9, 100.0]), np.array([0.0, 50.0, 100.0])
    squares, shape = cells(x, y, (WIDE, HIGH), 50.0)
    assert shape == (12, 8)
    every = np.bincount(squares, minlength=96).reshape(shape)
    assert every.sum() == 3
    assert every[0, 0] == every[11, 4] == every[11, 7] == 1
