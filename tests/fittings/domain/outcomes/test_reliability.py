"""Reliability of a number read by two fitters: worked by hand, at the edges, and by simulation."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.outcomes.reliability import detectable_change, reliability

READ = [[6.0, 7.0], [9.0, 9.0], [4.0, 6.0], [11.0, 12.0]]


def test_worked_by_hand():
    found = reliability(READ)
    # People's means 6.5, 9, 5, 11.5; raters' 7.5 and 8.5; residuals are a quarter and half a millimetre.
    assert found.between_people == pytest.approx(2 * np.var([6.5, 9, 5, 11.5], ddof=1))
    assert (found.between_raters, found.residual) == pytest.approx((2.0, 1 / 3))
    assert found.sem_consistency.value == pytest.approx(np.sqrt(1 / 3))
    assert found.sem_agreement.value == pytest.approx(np.sqrt(1 / 3 + (2 - 1 / 3) / 4))
    assert found.shift.value == pytest.approx(1.0)
    assert found.shift.low < 1 < found.shift.high
    assert found.two_way.low < found.two_way.value < found.two_way.high


def test_raters_who_never_differ_have_no_interval():
    found = reliability([[5, 5], [7, 7], [9, 9]])
    assert (found.one_way.value, found.two_way.value, found.consistency.value) == (1, 1, 1)
    assert (found.two_way.low, found.consistency.high, found.shift.low) == (None, None, None)
    assert (found.sem_agreement.value, found.mdc_agreement) == (0, 0)


def test_everybody_alike_has_no_correlation():
    found = reliability([[5, 5], [5, 5]])
    assert (found.one_way.value, found.two_way.value, found.consistency.value) == (None, None, None)


def test_constant_shift_counts_against_agreement_and_not_against_consistency():
    found = reliability([[5, 7], [7, 9], [9, 11]])
    assert found.consistency.value == pytest.approx(1)
    assert found.two_way.value < 0.7
    assert (found.shift.value, found.shift.low) == (2, None)


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=30), st.floats(0.1, 9))
def test_unit_does_not_matter_and_intervals_hold_the_value(rows, scale):
    one, other = reliability(rows), reliability(np.array(rows) * scale)
    for name in ("one_way", "two_way", "consistency"):
        a, b = getattr(one, name), getattr(other, name)
        if a.value is None or b.value is None:
            continue
        assert a.value == pytest.approx(b.value, abs=1e-6)
        assert a.value <= 1 + 1e-9
        # The interval of ICC(2,1) is an approximation that may miss low values of few people.
        if a.low is not None and (name != "two_way" or a.value > 0.3):
            assert a.low - 1e-9 <= a.value <= a.high + 1e-9
    assert other.sem_agreement.value == pytest.approx(scale * one.sem_agreement.value, abs=1e-6)


def test_intervals_hold_the_truth_as_often_as_they_say():
    rng = np.random.default_rng(3)
    held = []
    for _ in range(600):
        table = rng.normal(8, 2, (20, 1)) + rng.normal(0, 1, (20, 2))
        found = reliability(table)
        held.append(
            (
                found.one_way.low <= 0.8 <= found.one_way.high,
                found.sem_consistency.low <= 1 <= found.sem_consistency.high,
            )
        )
    assert np.mean(held, axis=0) == pytest.approx([0.95, 0.95], abs=0.03)


@pytest.mark.parametrize("values", [[], [[1, 2]], [[1], [2]], [1, 2, 3], [[1, np.nan], [2, 3]]])
def test_malformed_tables_are_refused(values):
    with pytest.raises(ValueError, match="values must"):
        reliability(values)


def test_malformed_numbers_are_refused():
    with pytest.raises(ValueError, match="confidence"):
        reliability(READ, 1.0)
    with pytest.raises(ValueError, match="sem must be"):
        detectable_change(-1)
