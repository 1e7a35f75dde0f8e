"""Rates, comparisons and hidden cells: edges and laws (published values are in tests/external)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.outcomes.rates import compare_risks, hide_small, poisson_interval, rate_per_1000_km

counts = st.integers(0, 500)


@given(counts, st.floats(0.5, 0.99))
def test_interval_holds_the_count(events, confidence):
    low, high = poisson_interval(events, confidence)
    assert 0 <= low <= events < high


@given(counts)
def test_more_confidence_never_narrows(events):
    narrow, wide = poisson_interval(events, 0.9), poisson_interval(events, 0.95)
    assert wide[0] <= narrow[0]
    assert wide[1] >= narrow[1]


@given(counts, st.floats(1, 1e6))
def test_rate_does_not_depend_on_how_the_distance_is_told(events, km):
    rate, doubled = rate_per_1000_km(events, km), rate_per_1000_km(events, 2 * km)
    assert rate.per_1000_km == pytest.approx(2 * doubled.per_1000_km)
    assert rate.high == pytest.approx(2 * doubled.high)


def test_no_distance_gives_no_rate():
    rate = rate_per_1000_km(0, 0)
    assert (rate.per_1000_km, rate.low, rate.high) == (None, None, None)


@pytest.mark.parametrize("km", [-1, float("nan"), float("inf")])
def test_impossible_distance_is_refused(km):
    with pytest.raises(ValueError, match="exposure_km must be >= 0"):
        rate_per_1000_km(1, km)


@pytest.mark.parametrize("events", [-1, 1.5, True])
def test_impossible_count_is_refused(events):
    with pytest.raises(ValueError, match="events must be a whole number"):
        poisson_interval(events)


@pytest.mark.parametrize("confidence", [0, 1, -0.1, 95])
def test_impossible_confidence_is_refused(confidence):
    with pytest.raises(ValueError, match="confidence must be between 0 and 1"):
        poisson_interval(1, confidence)


def test_a_group_without_an_event_has_no_ratio_but_a_difference():
    found = compare_risks((0, 3), (20, 20))
    assert found.ratio.value is None
    assert "not estimable" in found.ratio.note
    assert found.difference.value == pytest.approx(-0.15)
    assert found.too_few


def test_an_empty_group_has_neither():
    found = compare_risks((0, 3), (0, 20))
    assert found.ratio.value is None
    assert found.difference.value is None
    assert "no people" in found.difference.note


def test_ten_events_in_each_group_are_enough_to_speak():
    assert not compare_risks((10, 10), (20, 20)).too_few
    assert compare_risks((9, 10), (20, 20)).too_few


def test_more_events_than_people_is_refused():
    with pytest.raises(ValueError, match=r"events must be <= people \(4\), got 5"):
        compare_risks((5, 1), (4, 4))


@given(st.integers(1, 50), st.integers(1, 50), st.integers(50, 90), st.integers(50, 90))
def test_exchanging_the_groups_inverts_the_ratio_and_mirrors_the_difference(a, b, n, m):
    one, other = compare_risks((a, b), (n, m)), compare_risks((b, a), (m, n))
    assert one.ratio.value * other.ratio.value == pytest.approx(1)
    assert one.ratio.low * other.ratio.high == pytest.approx(1)
    assert one.difference.high == pytest.approx(-other.difference.low)


@pytest.mark.parametrize(
    ("given_counts", "shown"),
    [
        ([], ()),
        ([5, 6], (5, 6)),
        ([4, 6], (None, None)),
        ([4, 6, 9], (None, None, 9)),
        ([0, 3, 9], (None, None, None)),
        ([1, 4, 9], (None, None, 9)),
        ([4], (None,)),
    ],
)
def test_small_cells_are_hidden_and_cannot_be_had_by_subtraction(given_counts, shown):
    assert hide_small(given_counts) == shown


def test_without_a_total_only_the_small_cell_is_hidden():
    assert hide_small([4, 6, 9], total_shown=False) == (None, 6, 9)


def test_negative_counts_are_refused():
    with pytest.raises(ValueError, match="counts must be a whole number"):
        hide_small([-1])
