"""Wear series: the trend over km and when it leaves its band."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.studies.linear_fit import predict
from labtests.domain.studies.wear import Leaving, wear_trend

KM = [0.0, 100.0, 200.0, 300.0, 400.0]
FALLING = [66.0, 64.4, 61.9, 60.1, 58.0]


def test_a_falling_trend_leaves_its_band_at_the_lower_limit():
    trend = wear_trend(KM, FALLING, lower=60.0, upper=70.0)
    crossing = trend.crossing
    assert crossing.leaving is Leaving.LEAVES
    assert crossing.limit == 60.0
    assert crossing.at_km == pytest.approx(200 + 2.08 / 0.0203)
    assert predict(trend.fit, [crossing.at_km]).value[0] == pytest.approx(60.0)
    assert 270 < crossing.low_km < crossing.at_km < crossing.high_km < 330
    assert crossing.words.startswith("the trend reaches 60 at 302.5 km (95 % bounds: ")
    assert trend.words == "−2.03 a 100 km (95 % interval −2.25 to −1.81, n = 5)"


def test_the_bounds_are_where_the_interval_of_the_line_meets_the_limit():
    trend = wear_trend(KM, FALLING, lower=60.0)
    at_bounds = predict(trend.fit, [trend.crossing.low_km, trend.crossing.high_km])
    assert at_bounds.low[0] == pytest.approx(60.0)
    assert at_bounds.high[1] == pytest.approx(60.0)


def test_a_rising_trend_leaves_at_the_upper_limit():
    trend = wear_trend(KM, [54.0, 56.1, 57.9, 60.2, 62.0], lower=50.0, upper=60.0)
    assert trend.crossing.leaving is Leaving.LEAVES
    assert trend.crossing.limit == 60.0
    assert trend.words.startswith("+2.01 a 100 km")


def test_a_trend_still_inside_at_the_last_distance_is_not_carried_further():
    crossing = wear_trend(KM, FALLING, lower=50.0, upper=70.0).crossing
    assert crossing.leaving is Leaving.AFTER_LAST_TESTED
    assert (crossing.at_km, crossing.low_km, crossing.high_km) == (None, None, None)
    assert crossing.words == "the trend reaches 50 after the last tested distance, 400 km, if at all"


def test_bounds_that_begin_within_the_tested_distance_are_reported_where_the_trend_itself_is_still_inside():
    crossing = wear_trend(KM, FALLING, lower=57.9, upper=70.0).crossing
    assert crossing.leaving is Leaving.AFTER_LAST_TESTED
    assert crossing.at_km is None
    assert 350 < crossing.low_km < 400
    assert "the bounds begin at" in crossing.words


def test_a_bound_after_the_last_tested_distance_is_said_and_not_numbered():
    crossing = wear_trend(KM, FALLING, lower=58.2).crossing
    assert crossing.leaving is Leaving.LEAVES
    assert crossing.high_km is None
    assert crossing.words.endswith("km to after the last tested distance)")


def test_a_bound_before_the_first_tested_distance_is_said_and_not_numbered():
    crossing = wear_trend([100, 200, 300, 400, 500], FALLING, lower=66.0).crossing
    assert crossing.leaving is Leaving.LEAVES
    assert crossing.low_km is None
    assert "bounds: before the first tested distance to" in crossing.words


def test_a_trend_that_begins_outside_is_reported_so():
    for limits in ({"lower": 67.0}, {"upper": 60.0}):
        crossing = wear_trend(KM, FALLING, **limits).crossing
        assert crossing.leaving is Leaving.OUTSIDE_FROM_START
        assert crossing.at_km is None
        assert crossing.words.endswith("already at the first tested distance, 0 km")


@pytest.mark.parametrize(
    ("readings", "limits"),
    [(FALLING, {"upper": 70.0}), (FALLING[::-1], {"lower": 50.0}), (FALLING, {}), ([55.0] * 5, {"lower": 50.0})],
)
def test_a_trend_with_no_limit_ahead_never_leaves(readings, limits):
    crossing = wear_trend(KM, readings, **limits).crossing
    assert crossing.leaving is Leaving.NO_LIMIT_AHEAD
    assert crossing.limit is None


def test_a_slope_that_cannot_be_distinguished_from_none_has_no_bounds_and_says_so():
    trend = wear_trend(KM, [60.5, 63.0, 58.0, 62.0, 59.0], lower=60.5)
    assert not trend.fit.is_slope_shown
    assert trend.words.endswith("no trend shown, the interval includes 0")
    assert trend.crossing.leaving is Leaving.LEAVES
    assert (trend.crossing.low_km, trend.crossing.high_km) == (None, None)
    assert trend.crossing.words.endswith("(no bounds: no trend detected)")


@given(st.integers(0, 999), st.sampled_from([1.609344, 0.5]), st.sampled_from([10.0, 0.2]))
def test_other_units_move_the_crossing_with_them(seed, of_km, of_reading):
    rng = np.random.default_rng(seed)
    readings = np.linspace(66, 56, 5) + rng.normal(0, 1, 5)
    one = wear_trend(KM, readings, lower=60.0, upper=90.0).crossing
    scaled_km = [of_km * km for km in KM]
    other = wear_trend(scaled_km, of_reading * readings, lower=of_reading * 60.0, upper=of_reading * 90.0).crossing
    assert other.leaving is one.leaving
    for name in ("at_km", "low_km", "high_km"):
        value = getattr(one, name)
        assert getattr(other, name) == (None if value is None else pytest.approx(of_km * value))


@given(st.integers(0, 999))
def test_whatever_is_reported_is_within_the_tested_distance(seed):
    rng = np.random.default_rng(seed)
    crossing = wear_trend(KM, 62 + rng.normal(0, 2, 5) - 0.01 * np.array(KM), lower=60.0, upper=65.0).crossing
    answer = [km for km in (crossing.low_km, crossing.at_km, crossing.high_km) if km is not None]
    assert answer == sorted(answer)
    assert all(0.0 <= km <= 400.0 for km in answer)


@pytest.mark.parametrize(
    ("km", "readings", "limits", "words"),
    [
        ([0, 100], [1.0, 2.0], {}, "worn_km must hold ≥ 3 values, got 2"),
        ([-1, 0, 100], [1.0, 2.0, 3.0], {}, "worn_km must be ≥ 0, got -1.0"),
        ([50, 50, 50], [1.0, 2.0, 3.0], {}, r"worn_km must hold ≥ 2 different distances, got 50.0 3 times"),
        ([0, 0, 1e-156], [1.0, 2.0, 3.0], {}, r"worn_km must hold ≥ 2 different distances, got 0.0 3 times"),
        ([0, 50, 90], [1.0, 2.0, 3.0], {"lower": 60.0, "upper": 50.0}, "lower must be < upper, got 60.0 and 50.0"),
        ([0, 50, 90], [1.0, 2.0, None], {}, "readings must be finite, got nan as value 3"),
        ([0, 50, 90], [1.0, 2.0, 3.0, 4.0], {}, "must be equally many, got 3 and 4"),
    ],
)
def test_series_without_a_trend_are_refused(km, readings, limits, words):
    with pytest.raises(ValueError, match=words):
        wear_trend(km, readings, **limits)
