"""The days on which a pair should be looked at again."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.shoes.shoe_age import LONGEST_DAYS, SHOE_LIFE_KM, shoe_age

START = dt.date(2026, 1, 1)


def test_hand_worked():
    # 500 km and 800 km at 35 km a week (5 km a day): 100 and 160 days.
    found = shoe_age(START, 35)
    assert (found.first, found.last) == (START + dt.timedelta(days=100), START + dt.timedelta(days=160))
    assert (found.first_km, found.last_km, found.capped) == (*SHOE_LIFE_KM, False)


@pytest.mark.parametrize("distance", [None, 0, 0.0])
def test_without_a_distance_there_is_no_day(distance):
    assert shoe_age(START, distance) is None


@pytest.mark.parametrize("distance", [5, 0.1, 5e-324])
def test_two_years_end_it(distance):
    found = shoe_age(START, distance)
    assert found.capped
    assert found.last == START + dt.timedelta(days=LONGEST_DAYS)


@pytest.mark.parametrize(("distance", "error"), [(-1, ValueError), (1001, ValueError), (True, TypeError)])
def test_impossible_distance_is_refused_by_name(distance, error):
    with pytest.raises(error, match="distance_km_week"):
        shoe_age(START, distance)


@given(st.floats(0.01, 1000), st.floats(0.01, 1000))
def test_who_goes_further_is_asked_no_later(one, other):
    slow, fast = sorted((one, other))
    assert START < shoe_age(START, fast).first <= shoe_age(START, slow).first
    assert shoe_age(START, slow).first <= shoe_age(START, slow).last
