"""Shares and rates set against each other: edges and laws (published values are in tests/external)."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.outcomes.comparisons import (
    Estimate,
    difference_of,
    exact_share,
    rate_ratio,
    ratio_of,
)

shares = st.integers(1, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))
NOTHING = Estimate(None, None, None, "", "nobody was asked")


@given(shares)
def test_limits_hold_the_share_and_have_a_width(share):
    found = exact_share(*share)
    assert 0.0 <= found.low <= found.value <= found.high <= 1.0
    assert found.high - found.low > 1e-3


@given(shares, shares)
def test_exchanging_the_groups_mirrors_the_difference_and_inverts_the_ratio(one, other):
    first, second = exact_share(*one), exact_share(*other)
    there, back = difference_of(first, second), difference_of(second, first)
    assert there.low == pytest.approx(-back.high, abs=1e-12)
    assert there.low <= there.value <= there.high
    ratio, inverse = ratio_of(first, second), ratio_of(second, first)
    if ratio.value is None:
        assert 0 in (first.value, second.value)
    else:
        assert ratio.value * inverse.value == pytest.approx(1)
        assert ratio.low * inverse.high == pytest.approx(1)


def test_nobody_has_no_share_and_nothing_to_compare():
    assert (exact_share(0, 0).value, exact_share(0, 0).note) == (None, "nobody was asked")
    for compared in (difference_of, ratio_of):
        assert compared(NOTHING, exact_share(1, 2)).value is None
        assert compared(exact_share(1, 2), NOTHING).note == "nobody was asked"


def test_ratio_without_a_limit_of_its_own_has_none():
    assert ratio_of(exact_share(3, 9), Estimate(0.5, 0.0, 1.0, "")).high is None


@given(st.integers(0, 60), st.integers(0, 60), st.floats(0.1, 1e5), st.floats(0.1, 1e5))
def test_exchanging_the_groups_inverts_the_ratio_of_rates(a, b, one, other):
    there, back = rate_ratio((a, b), (one, other)), rate_ratio((b, a), (other, one))
    assert there.p == pytest.approx(back.p, abs=1e-9)
    assert (there.value is None) == (b == 0)
    if there.high is None:
        assert back.low == 0.0
    else:
        assert there.high * back.low == pytest.approx(1, rel=1e-6)


def test_no_event_at_all_says_nothing_about_a_ratio():
    found = rate_ratio((0, 0), (10.0, 20.0))
    assert (found.value, found.low, found.high, found.p) == (None, 0.0, None, 1.0)


@pytest.mark.parametrize("exposure", [(0.0, 1.0), (1.0, -2.0), (math.nan, 1.0), (1.0, math.inf)])
def test_impossible_exposure_is_refused(exposure):
    with pytest.raises(ValueError, match="exposure must be > 0 and finite"):
        rate_ratio((1, 1), exposure)


def test_impossible_counts_and_confidence_are_refused():
    with pytest.raises(ValueError, match=r"events must be <= people \(4\), got 5"):
        exact_share(5, 4)
    with pytest.raises(ValueError, match="whole numbers >= 0, got -1"):
        exact_share(-1, 4)
    with pytest.raises(ValueError, match="whole numbers >= 0, got 1"):
        exact_share(1.5, 4)
    with pytest.raises(ValueError, match="confidence must be between 0 and 1"):
        exact_share(1, 4, 1.0)
