"""Kappa: edges and laws (published values are in tests/external)."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from fittings.domain.outcomes.agreement import weighted_kappa

tables = arrays(np.int64, (3, 3), elements=st.integers(0, 30))


@given(tables, st.sampled_from(["none", "linear", "quadratic"]))
def test_exchanging_the_raters_changes_nothing(table, weights):
    assume(table.sum() > 0)
    one, other = weighted_kappa(table, weights), weighted_kappa(table.T, weights)
    if one.kappa is None:
        assert other.kappa is None
    else:
        assert one.kappa == pytest.approx(other.kappa)
        assert one.standard_error == pytest.approx(other.standard_error, abs=1e-7)
        assert one.kappa <= 1 + 1e-12


@given(tables)
def test_two_grades_are_alike_under_every_weighting(table):
    two = table[:2, :2]
    assume(two.sum() > 0)
    assert weighted_kappa(two, "linear").kappa == weighted_kappa(two, "none").kappa


def test_full_agreement_is_one():
    found = weighted_kappa([[5, 0], [0, 7]])
    assert (found.kappa, found.standard_error, found.n, found.high) == (1.0, 0.0, 12, 1.0)


@pytest.mark.parametrize("table", [[[5, 0], [0, 7]], [[40, 0, 0], [0, 35, 0], [0, 0, 9]], [[0, 9], [8, 0]]])
@pytest.mark.parametrize("weights", ["none", "quadratic"])
def test_agreement_of_all_or_of_nobody_has_an_interval_with_a_width(table, weights):
    found = weighted_kappa(table, weights)
    assert found.low < found.high - 0.02
    assert found.low <= found.kappa <= found.high
    assert found.method.startswith("exact limits")


def test_more_people_who_all_agree_leave_less_doubt():
    few, many = weighted_kappa([[5, 0], [0, 7]]), weighted_kappa([[50, 0], [0, 70]])
    assert few.low < many.low < 1.0


def test_enough_people_graded_apart_leave_the_interval_of_large_samples():
    found = weighted_kappa([[20, 5], [10, 15]])
    assert found.method.startswith("large sample")
    assert found.high - found.kappa == pytest.approx(1.959964 * found.standard_error, rel=1e-6)


def test_everyone_in_one_grade_leaves_kappa_undefined():
    found = weighted_kappa([[9, 0], [0, 0]])
    assert found.agreement == 1.0
    assert found.kappa is None
    assert found.low is None


@pytest.mark.parametrize("table", [[[1, 2]], [[3]], [1, 2], [[0, 0], [0, 0]], [[1, -1], [0, 2]], [[1, np.nan], [0, 2]]])
def test_what_is_no_table_is_refused(table):
    with pytest.raises(ValueError, match="table must"):
        weighted_kappa(table)


def test_unknown_weights_and_impossible_confidence_are_refused():
    with pytest.raises(ValueError, match="weights must be none, linear or quadratic, got 'cubic'"):
        weighted_kappa([[1, 0], [0, 1]], "cubic")
    with pytest.raises(ValueError, match="confidence must be between 0 and 1"):
        weighted_kappa([[1, 0], [0, 1]], confidence=1.0)
