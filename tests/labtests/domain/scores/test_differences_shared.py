"""Differences of two measured values: shared errors cancel, others add up, unknown stays unknown."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.differences import Measured, Part, difference
from labtests.domain.uncertainty.propagation import combined_covariance

REPEATS = Part("torque, repeats", 0.3, 1.0)
CALIBRATION = Part("torque, calibration", 0.5, 2.0)


def measured(value, *parts):
    return Measured(value, tuple(parts))


def test_independent_parts_add_up_in_squares():
    found = difference(measured(50.0, REPEATS), measured(53.0, Part("torque, repeats", 0.4, 1.0)), shared=())
    assert (found.value, found.u, found.expanded) == (3.0, pytest.approx(0.5), pytest.approx(1.0))
    assert found.is_beyond


def test_shared_error_with_the_same_sensitivity_cancels():
    found = difference(
        measured(50.0, REPEATS, CALIBRATION), measured(50.5, REPEATS, CALIBRATION), shared={"torque, calibration"}
    )
    assert found.u == pytest.approx((2 * 0.3**2) ** 0.5)
    assert not found.is_beyond


def test_shared_error_leaves_what_the_sensitivities_differ_by():
    steeper = Part("torque, calibration", 0.5, 2.5)
    found = difference(measured(50.0, CALIBRATION), measured(60.0, steeper), shared={"torque, calibration"})
    assert found.u == pytest.approx(0.25)


def test_shared_source_of_another_size_counts_twice():
    other = Part("torque, calibration", 0.4, 2.0)
    found = difference(measured(50.0, CALIBRATION), measured(50.0, other), shared={"torque, calibration"})
    assert found.u == pytest.approx((1.0**2 + 0.8**2) ** 0.5)


def test_source_of_one_side_counts_once():
    found = difference(measured(50.0, CALIBRATION), measured(50.0, REPEATS), shared={"torque, calibration"})
    assert found.u == pytest.approx((1.0**2 + 0.3**2) ** 0.5)


@pytest.mark.parametrize("pair", [(None, (REPEATS,)), ((REPEATS,), None), (None, None)])
def test_unknown_uncertainty_stays_unknown(pair):
    found = difference(Measured(50.0, pair[0]), Measured(51.0, pair[1]), shared=())
    assert (found.value, found.u, found.expanded, found.is_beyond) == (1.0, None, None, None)


def test_without_any_uncertainty_every_difference_is_beyond():
    assert difference(measured(1.0), measured(2.0), shared=()).is_beyond
    assert not difference(measured(1.0), measured(1.0), shared=()).is_beyond


@pytest.mark.parametrize("u", [-0.1, float("nan"), float("inf")])
def test_uncertainty_that_makes_no_sense_is_refused(u):
    with pytest.raises(ValueError, match="u of x must be ≥ 0 and finite"):
        difference(measured(1.0, Part("x", u, 1.0)), measured(1.0), shared=())


us, slopes = st.floats(0.0, 10.0), st.floats(-5.0, 5.0)


@given(u=us, own=us, one=slopes, two=slopes)
def test_law_agrees_with_the_general_propagation(u, own, one, two):
    # JCGM 100:2008 (GUM), 5.2.2 equation 16, as C V Cᵀ with the shared error as one input (DERIVED).
    first = measured(0.0, Part("own", own, 1.0), Part("shared", u, one))
    second = measured(0.0, Part("own", own, 1.0), Part("shared", u, two))
    found = difference(first, second, shared={"shared"})
    general = combined_covariance(np.array([[-1.0, 1.0, two - one]]), np.diag([own**2, own**2, u**2]))
    assert found.u**2 == pytest.approx(float(general[0, 0]), rel=1e-9, abs=1e-12)


@given(u=us, a=st.floats(-100, 100), b=st.floats(-100, 100))
def test_law_swapping_turns_the_sign_only(u, a, b):
    first, second = measured(a, Part("x", u, 1.0)), measured(b, Part("x", u, 1.0))
    there, back = difference(first, second, shared=()), difference(second, first, shared=())
    assert (there.value, there.u, there.is_beyond) == (-back.value, back.u, back.is_beyond)
