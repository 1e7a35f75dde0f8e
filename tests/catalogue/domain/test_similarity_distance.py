from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from catalogue.domain.similarity import (
    FEATURES,
    MEASURED,
    Neighbour,
    difference_u,
    prepare,
    spreads,
    verdict,
)

NAN = math.nan
WIDTH = len(FEATURES)
NOT_KNOWN = [NAN] * WIDTH

numbers = st.floats(-200, 400, allow_nan=False).map(lambda value: round(value, 3))
tables = arrays(np.float64, st.tuples(st.integers(2, 12), st.just(WIDTH)), elements=numbers)


def unknown_u(table):
    return np.full_like(table, NAN)


def test_hand_worked_distance_of_two_shoes():
    # Two shoes: the sample standard deviation of each feature is |difference| / √2, so each scaled difference is √2.
    table = [[40, 50, 30, 60, 280, 8], [60, 70, 50, 40, 300, 4]]
    assert prepare(table, [NOT_KNOWN] * 2).distances(0) == pytest.approx([0.0, math.sqrt(2)])


def test_hand_worked_distance_with_uncertainty():
    # Stability alone differs, by 4, with spread 4/√2: scale² = 8 + 2² + 2² = 16, part = 16/16 = 1; the others are
    # equal everywhere and have an uncertainty of 2, so they are compared and give 0: √(1/6).
    table = [[50, 50, 50, 50, 280, 8], [54, 50, 50, 50, 280, 8]]
    assert prepare(table, [[2.0] * WIDTH] * 2).distances(0)[1] == pytest.approx(math.sqrt(1 / 6))


def test_missing_value_is_left_out_and_not_taken_as_zero():
    table = [[40, 50, 30, 60, NAN, 8], [60, 70, 50, 60, 300, 8], [60, 70, 50, 60, NAN, 8]]
    far = prepare(table, [NOT_KNOWN] * 3).distances(0)
    assert far[1] == pytest.approx(far[2])


def test_shoe_without_anything_to_compare_has_no_distance():
    table = [[40] + [NAN] * 5, [NAN, 50, NAN, NAN, NAN, NAN], [44] + [NAN] * 5]
    assert np.isnan(prepare(table, [NOT_KNOWN] * 3).distances(0)[1])
    assert prepare(table, [NOT_KNOWN] * 3).nearest(0).neighbours == (Neighbour(2, pytest.approx(math.sqrt(2)), 1),)


def test_larger_uncertainty_brings_shoes_nearer():
    table = [[40, 50, 30, 60, 280, 8], [60, 70, 50, 40, 300, 4]]
    sure, unsure = ([[u] * WIDTH] * 2 for u in (0.1, 10.0))
    assert prepare(table, unsure).distances(0)[1] < prepare(table, sure).distances(0)[1]


@given(tables, st.data())
def test_distance_is_symmetric(table, data):
    u = data.draw(arrays(np.float64, table.shape, elements=st.floats(0, 20).map(lambda value: round(value, 3))))
    a, b = 0, table.shape[0] - 1
    assert prepare(table, u).distances(a)[b] == pytest.approx(prepare(table, u).distances(b)[a], nan_ok=True)


@given(tables, st.floats(0.01, 100))
def test_distance_does_not_depend_on_a_unit(table, factor):
    assume(np.ptp(table[:, 4]) > 1)
    u = np.full_like(table, 1.5)
    other_table, other_u = table.copy(), u.copy()
    other_table[:, 4] *= factor
    other_u[:, 4] *= factor
    assert prepare(other_table, other_u).distances(0) == pytest.approx(
        prepare(table, u).distances(0), rel=1e-6, nan_ok=True
    )


@given(tables, numbers)
def test_distance_does_not_depend_on_the_zero_of_a_scale(table, shift):
    u = np.full_like(table, 1.0)
    assert prepare(table + shift, u).distances(0) == pytest.approx(
        prepare(table, u).distances(0), rel=1e-6, abs=1e-6, nan_ok=True
    )


@given(tables)
def test_own_distance_is_zero_or_nothing(table):
    own = prepare(table, unknown_u(table)).distances(0)[0]
    assert own == 0 or math.isnan(own)


@given(tables)
def test_nearest_is_in_order_and_leaves_out_the_shoe_itself(table):
    found = prepare(table, unknown_u(table)).nearest(0).neighbours
    assert 0 not in {near.index for near in found}
    assert [near.distance for near in found] == sorted(near.distance for near in found)


def test_nearest_stops_at_the_count_and_keeps_the_order_of_ties():
    table = [[40, 50, 30, 60, 280, 8], [50, 50, 30, 60, 280, 8], [30, 50, 30, 60, 280, 8], [80, 50, 30, 60, 280, 8]]
    assert [near.index for near in prepare(table, [NOT_KNOWN] * 4).nearest(0, 2).neighbours] == [1, 2]
    assert [near.features for near in prepare(table, [NOT_KNOWN] * 4).nearest(0, 1).neighbours] == [1]


def test_spread_of_one_shoe_or_of_none_is_zero():
    assert spreads([[40, 50, 30, 60, 280, 8]]).tolist() == [0.0] * WIDTH
    assert spreads(np.empty((0, WIDTH))).tolist() == [0.0] * WIDTH


def test_explanation_shows_every_feature():
    table = [[50, 50, 50, 60, 280, 8], [53, 50, 40, 60, 300, NAN]]
    u = [[1, 1, 1, NAN, NAN, NAN]] * 2
    answer = {part.feature: part for part in prepare(table, u).explain(0, 1)}
    assert [part.verdict for part in answer.values()] == ["beyond", "same", "beyond", "same", "unknown", "missing"]
    assert answer["stability"].difference == 3.0
    assert answer["stability"].expanded_u == pytest.approx(2 * math.sqrt(2))
    assert answer["rearfoot"].difference == -10.0
    assert answer["drop_mm"].difference is None
    assert answer["drop_mm"].share is None
    assert answer["mass_g"].expanded_u is None


@given(tables)
def test_shares_of_an_explanation_add_to_one_or_nothing(table):
    shares = [part.share for part in prepare(table, np.full_like(table, 1.0)).explain(0, 1)]
    assert sum(share or 0.0 for share in shares) == pytest.approx(1.0) or sum(share or 0.0 for share in shares) == 0


@pytest.mark.parametrize(
    ("difference", "expanded_u", "said"),
    [
        (None, 1.0, "missing"),
        (0.0, None, "same"),
        (1.0, None, "unknown"),
        (1.0, 1.0, "within"),
        (-1.0, 1.0, "within"),
        (-1.01, 1.0, "beyond"),
        (0.5, 0.0, "beyond"),
    ],
)
def test_verdict_on_a_difference(difference, expanded_u, said):
    assert verdict(difference, expanded_u) == said


def test_uncertainty_of_a_difference_needs_both():
    assert difference_u(3.0, 4.0) == 10.0
    assert difference_u(None, 4.0) is None
    assert difference_u(3.0, None) is None


@pytest.mark.parametrize(
    ("table", "u", "words"),
    [
        ([[1.0, 2.0]], [[1.0, 2.0]], r"values must have shape \(n, 6\), got \(1, 2\)"),
        ([[1.0] * 6], [[1.0] * 5], r"u must have the shape of values, \(1, 6\), got \(1, 5\)"),
        ([[math.inf] * 6], [[1.0] * 6], "values and u must be finite or nan, got inf"),
        ([[1.0] * 6], [[math.inf] * 6], "values and u must be finite or nan, got inf"),
        ([[1.0] * 6], [[-1.0] * 6], "u must be >= 0, got -1.0"),
    ],
)
def test_bad_table_is_named(table, u, words):
    with pytest.raises(ValueError, match=words):
        prepare(table, u).distances(0)


def test_features_that_do_not_count_neither_rank_nor_have_a_share():
    table = prepare(
        [[50, 50, 50, 50, 280, 8], [51, 51, 51, 51, 280, 0], [60, 60, 60, 60, 280, 8], [40, 40, 40, 40, 280, 8]],
        [[1.0] * 6] * 4,
    )
    assert table.nearest(0, over=MEASURED).neighbours[0].index == 1
    assert table.nearest(0, over=MEASURED).neighbours[0].features == 4
    assert [near.index for near in table.nearest(0, over=("drop_mm",)).neighbours] == [2, 3, 1]
    parts = {part.feature: part for part in table.explain(0, 1, MEASURED)}
    assert parts["drop_mm"].difference == -8.0
    assert parts["drop_mm"].share is None
    assert sum(part.share or 0.0 for part in parts.values()) == pytest.approx(1.0)


def test_nearest_can_be_kept_to_some_shoes():
    table = prepare([[40, 50, 30, 60, 280, 8], [41, 50, 30, 60, 280, 8], [60, 70, 50, 60, 300, 8]], [[1.0] * 6] * 3)
    assert [near.index for near in table.nearest(0).neighbours] == [1, 2]
    kept = table.nearest(0, 5, np.array([True, False, True]))
    assert ([near.index for near in kept.neighbours], kept.comparable) == ([2], 1)
    assert table.nearest(0, 5, np.zeros(3, dtype=bool)).neighbours == ()
    assert table.nearest(0, 0).neighbours == ()


@given(st.integers(2, 12), st.integers(1, 5), st.randoms(use_true_random=False))
def test_few_nearest_are_the_first_of_all(rows, count, random):
    values = [[float(random.randint(0, 3)) for _ in range(6)] for _ in range(rows)]
    table = prepare(values, [[0.5] * 6] * rows)
    assert table.nearest(0, count).neighbours == table.nearest(0).neighbours[:count]
