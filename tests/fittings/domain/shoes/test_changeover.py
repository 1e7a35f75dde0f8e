"""From the old shoe to the new one: which change is large, and the weeks that follow."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.shoes.changeover import (
    LARGE,
    ShoeFacts,
    changes_between,
    share_by_week,
    weeks_to_change,
)

OLD = ShoeFacts(stability=50.0, stack_heel_mm=32.0, drop_mm=10.0, mass_g=270.0, cushioning=40.0)


def large(new):
    return [change.what for change in changes_between(OLD, new) if change.is_large]


def test_change_of_exactly_the_border_is_not_large():
    at_border = ShoeFacts(stability=62.0, stack_heel_mm=38.0, drop_mm=6.0, mass_g=330.0, cushioning=55.0)
    assert large(at_border) == []
    beyond = ShoeFacts(stability=37.9, stack_heel_mm=25.9, drop_mm=14.1, mass_g=209.9, cushioning=55.1)
    assert large(beyond) == list(LARGE)


def test_tenths_of_a_millimetre_make_no_large_change_by_themselves():
    changes = changes_between(ShoeFacts(drop_mm=12.1), ShoeFacts(drop_mm=8.1))
    assert [change.difference for change in changes if change.what == "drop_mm"] == [-4.0]
    assert weeks_to_change(changes) == 0


def test_what_is_not_known_of_one_shoe_is_no_change():
    changes = changes_between(OLD, ShoeFacts(mass_g=400.0))
    assert [(change.what, change.difference) for change in changes if change.difference is not None] == [
        ("mass_g", 130.0)
    ]
    assert weeks_to_change(changes) == 2


def test_weeks_rise_with_the_number_of_large_changes_and_end():
    steps = [{}, {"drop_mm": 0.0}, {"mass_g": 400.0}, {"cushioning": 90.0}, {"stability": 90.0}]
    weeks, said = [], {}
    for step in steps:
        said |= step
        weeks.append(weeks_to_change(changes_between(OLD, ShoeFacts(**said))))
    assert weeks == [0, 2, 4, 6, 6]


@given(st.integers(1, 52))
def test_shares_rise_to_everything(weeks):
    shares = share_by_week(weeks)
    assert list(shares) == sorted(shares)
    assert (len(shares), shares[-1]) == (weeks, 100)


def test_no_weeks_and_fewer():
    assert share_by_week(0) == ()
    with pytest.raises(ValueError, match="weeks must be >= 0, got -1"):
        share_by_week(-1)
