"""Straight lines by least squares (certified values are in tests/external)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.studies.linear_fit import fit_line, predict

points = st.lists(
    st.tuples(st.integers(0, 100), st.integers(-500, 500)), min_size=3, max_size=30, unique_by=lambda point: point[0]
)


def split(rows):
    return [float(row[0]) for row in rows], [float(row[1]) for row in rows]


@given(points)
def test_residuals_add_up_to_nothing_and_do_not_follow_x(rows):
    x, y = split(rows)
    fit = fit_line(x, y)
    assert fit.residuals.sum() == pytest.approx(0.0, abs=1e-8)
    assert fit.residuals @ np.array(x) == pytest.approx(0.0, abs=1e-6)
    assert np.asarray(y) - fit.residuals == pytest.approx(fit.intercept + fit.slope * np.array(x), abs=1e-8)


@given(points, st.sampled_from([1.609344, 0.001]))
def test_another_unit_of_x_scales_the_slope_only(rows, factor):
    x, y = split(rows)
    one, other = fit_line(x, y), fit_line([factor * value for value in x], y)
    assert other.slope * factor == pytest.approx(one.slope, rel=1e-9, abs=1e-9)
    assert other.slope_se * factor == pytest.approx(one.slope_se, rel=1e-9, abs=1e-9)
    assert other.intercept == pytest.approx(one.intercept, rel=1e-9, abs=1e-8)


@given(st.floats(-5, 5), st.floats(-100, 100))
def test_points_on_a_line_give_the_line(slope, intercept):
    x = [0.0, 10.0, 25.0, 70.0]
    fit = fit_line(x, [intercept + slope * value for value in x])
    assert fit.slope == pytest.approx(slope, abs=1e-12)
    assert fit.intercept == pytest.approx(intercept, abs=1e-10)
    assert fit.residual_sd == pytest.approx(0.0, abs=1e-10)


def test_the_interval_of_the_line_is_narrowest_at_the_mean_and_widens_to_the_ends():
    fit = fit_line([0, 1, 2, 3, 4], [0.0, 1.2, 1.8, 3.1, 3.9])
    found = predict(fit, [0.0, 2.0, 4.0])
    widths = found.high - found.low
    assert widths[1] < widths[0] == pytest.approx(widths[2])
    assert found.value[1] == pytest.approx(fit.y_mean)
    assert fit.is_slope_shown


def test_covariance_carries_the_line_to_any_height():
    """The variance of the height at x from intercept, slope and their covariance is that of `predict`."""
    fit = fit_line([1, 2, 4, 7], [3.0, 3.9, 6.2, 8.8])
    x = 5.0
    variance = fit.intercept_se**2 + x**2 * fit.slope_se**2 + 2 * x * fit.covariance
    half = (predict(fit, [x]).high - predict(fit, [x]).value)[0]
    assert half == pytest.approx(fit.t * variance**0.5)


def test_a_flat_row_has_no_r_squared():
    fit = fit_line([0, 1, 2], [5.0, 5.0, 5.0])
    assert fit.r_squared is None
    assert not fit.is_slope_shown


@pytest.mark.parametrize("x", [-0.1, 4.1])
def test_nothing_is_extrapolated(x):
    fit = fit_line([0, 1, 2, 4], [0.0, 1.2, 1.8, 3.1])
    with pytest.raises(ValueError, match=f"x must be ≥ 0.0 and ≤ 4.0, where there are data, got {x}"):
        predict(fit, [x])


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        ([0, 1], [1, 2], "x must hold ≥ 3 values, got 2"),
        ([0, 1, 2], [1, 2, 3, 4], "x and y must be equally many, got 3 and 4"),
        ([2, 2, 2], [1, 2, 3], r"x must hold ≥ 2 different values, got 2.0 3 times"),
    ],
)
def test_points_without_a_line_are_refused(x, y, words):
    with pytest.raises(ValueError, match=words):
        fit_line(x, y)


def test_x_that_differs_by_less_than_can_be_squared_is_refused():
    with pytest.raises(ValueError, match="differ by more than rounding"):
        fit_line([0.0, 1e-200, 2e-200], [1.0, 2.0, 3.0])
