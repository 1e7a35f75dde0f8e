"""Shrinking of many groups' estimates: edges and laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.outcomes.shrinkage import shrink_means, shrink_rates

groups = st.lists(st.tuples(st.floats(-50, 50), st.floats(0.01, 25)), min_size=1, max_size=12)
counts = st.lists(st.tuples(st.integers(0, 60), st.floats(0.2, 40)), min_size=1, max_size=12)


@given(groups)
def test_means_move_towards_the_centre_and_never_past_it(rows):
    mean, variance = (np.array(part) for part in zip(*rows, strict=True))
    found = shrink_means(mean, variance)
    assert np.all(np.abs(found.value - found.centre) <= np.abs(mean - found.centre) + 1e-9)
    assert np.all((found.low <= found.value + 1e-12) & (found.value <= found.high + 1e-12))
    assert found.between >= 0


@given(counts)
def test_rates_lie_between_their_own_and_the_common_one(rows):
    events, expected = (np.array(part) for part in zip(*rows, strict=True))
    found = shrink_rates(events, expected)
    own = events / expected
    assert np.all(found.value >= np.minimum(own, found.centre) - 1e-9)
    assert np.all(found.value <= np.maximum(own, found.centre) + 1e-9)
    assert np.all(found.low <= found.high)


def test_groups_alike_are_given_the_common_value():
    assert shrink_means([2.0, 2.0, 2.0], [1.0, 2.0, 3.0]).value.tolist() == [2.0] * 3
    same = shrink_rates([5, 5], [5.0, 5.0])
    assert (same.value.tolist(), same.between) == ([1.0, 1.0], 0.0)
    assert shrink_rates([0, 0], [5.0, 5.0]).value.tolist() == [0.0, 0.0]
    assert shrink_means([4.0], [1.0]).value.tolist() == [4.0]


def test_little_data_is_drawn_in_further():
    found = shrink_means([0.0, 10.0, 10.0, 0.0], [1.0, 1.0, 30.0, 1.0])
    assert found.value[2] < found.value[1]
    assert found.high[2] - found.low[2] > found.high[1] - found.low[1]


@pytest.mark.parametrize(
    ("values", "scale", "confidence", "words"),
    [
        ([], [], 0.95, "at least 1"),
        ([1.0], [1.0, 2.0], 0.95, "of one length"),
        ([np.inf], [1.0], 0.95, "finite"),
        ([1.0], [0.0], 0.95, "must be > 0"),
        ([1.0], [1.0], 0.0, "confidence"),
    ],
)
@pytest.mark.parametrize("function", [shrink_means, shrink_rates])
def test_malformed_input_is_named(function, values, scale, confidence, words):
    with pytest.raises(ValueError, match=words):
        function(values, scale, confidence)


def test_negative_events_are_refused():
    with pytest.raises(ValueError, match="events must be >= 0"):
        shrink_rates([-1], [1.0])


def test_known_centre_is_kept_and_what_chance_explains_lies_on_it():
    found = shrink_means([0.1, -0.2, 0.1], [1.0, 1.0, 1.0], centre=0.0)
    assert (found.centre, found.between, found.value.tolist()) == (0.0, 0.0, [0.0, 0.0, 0.0])
    apart = shrink_means([-3.0, 3.0], [0.5, 0.5], centre=0.0)
    assert apart.between == pytest.approx((36.0 - 2) / 4)
    assert apart.high[0] < 0 < apart.low[1]
    rates = shrink_rates([20, 2], [10.0, 10.0], centre=1.0)
    assert rates.centre == 1.0
    assert 1 < rates.value[0] < 2
