"""Rates: edges and laws (published values are in tests/external)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.outcomes.rates import poisson_interval, rate_per_1000_km

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
