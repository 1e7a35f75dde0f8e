"""Rates of people who are there more than once."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.outcomes.clusters import NOBODY, person_sums, rate_of_people, robust_rate
from fittings.domain.outcomes.rates import rate_per_1000_km


@pytest.mark.parametrize(
    ("events", "km", "value", "error"),
    [
        ([], [], None, None),
        ([3], [0.0], None, None),
        ([0, 0], [50.0, 70.0], 0.0, None),
        ([2], [100.0], 0.02, 0.0),
        ([1, 1, 1], [50.0] * 3, 0.02, 0.0),
    ],
    ids=["nobody", "no distance", "no event", "one person", "all alike"],
)
def test_edges(events, km, value, error):
    found = robust_rate(person_sums(events, km))
    assert (found.value, found.standard_error) == (value, None if error is None else pytest.approx(error, abs=1e-12))
    assert (found.low is None) is (error is None)


def test_nobody_has_no_rate():
    assert rate_of_people(NOBODY) == rate_per_1000_km(0, 0.0)


def test_interval_stays_exact_where_everybody_is_there_once():
    sums = person_sums([0, 1, 0, 1], [120.0, 300.0, 80.0, 500.0])
    assert not sums.clustered
    assert rate_of_people(sums) == rate_per_1000_km(2, 1000.0)


def test_interval_is_never_narrower_than_the_exact_one():
    alike = person_sums([2, 2, 2], [400.0] * 3, [2, 2, 2])
    exact, found = rate_per_1000_km(6, 1200.0), rate_of_people(alike)
    assert (found.low, found.high) == (exact.low, exact.high)
    apart = rate_of_people(person_sums([0, 0, 6], [400.0] * 3, [2, 2, 2]))
    assert apart.low < exact.low < exact.high < apart.high
    assert "by person" in apart.method


@given(st.lists(st.tuples(st.integers(0, 5), st.floats(1.0, 900.0)), min_size=2, max_size=30), st.floats(0.1, 10.0))
def test_another_unit_scales_the_rate_and_its_error(people, factor):
    events, km = zip(*people, strict=True)
    one, other = robust_rate(person_sums(events, km)), robust_rate(person_sums(events, [k * factor for k in km]))
    assert other.value == pytest.approx(one.value / factor)
    if one.log_standard_error is not None:
        assert other.log_standard_error == pytest.approx(one.log_standard_error, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("events", "km", "words"),
    [([1], [1.0, 2.0], "one length"), ([-1], [1.0], "events must be"), ([1], [float("nan")], "exposure must be")],
)
def test_malformed_input_is_refused(events, km, words):
    with pytest.raises(ValueError, match=words):
        person_sums(events, km)
    with pytest.raises(ValueError, match="confidence"):
        robust_rate(NOBODY, 1.0)
