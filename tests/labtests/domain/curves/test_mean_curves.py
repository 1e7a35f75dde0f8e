"""Means of curves and their differences: on what they share, and nothing beyond."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.curves.mean_curves import POINTS, difference_curve, mean_curve


def line(slope, end, start=0.0, offset=0.0):
    x = np.linspace(start, end, 7)
    return x, slope * x + offset


def test_mean_covers_the_stretch_that_every_repeat_reaches():
    found = mean_curve([line(1.0, 12.0), line(3.0, 10.0, start=-1.0)])
    assert (found.position[0], found.position[-1], found.position.size, found.n) == (0.0, 10.0, POINTS, 2)
    assert found.load == pytest.approx(2.0 * found.position)


def test_difference_is_the_second_less_the_first_where_both_are():
    found = difference_curve(mean_curve([line(1.0, 12.0)]), mean_curve([line(1.5, 8.0), line(1.5, 9.0)]))
    assert (found.position[-1], found.n) == (8.0, 1)
    assert found.load == pytest.approx(0.5 * found.position)


def test_curves_that_share_nothing_have_neither_mean_nor_difference():
    assert mean_curve([]) is None
    assert mean_curve([line(1.0, 5.0), line(1.0, 9.0, start=5.0)]) is None
    assert difference_curve(mean_curve([line(1.0, 5.0)]), mean_curve([line(1.0, 9.0, start=6.0)])) is None


def test_single_point_has_no_mean():
    assert mean_curve([(np.array([1.0]), np.array([2.0]))]) is None


def test_positions_in_any_order_and_twice_are_averaged():
    x, y = np.array([2.0, 0.0, 1.0, 1.0]), np.array([4.0, 0.0, 1.0, 3.0])
    assert mean_curve([(x, y)]).load == pytest.approx(2.0 * np.linspace(0.0, 2.0, POINTS))


@given(st.floats(-5, 5), st.floats(-5, 5), st.floats(1, 30), st.floats(1, 30))
def test_difference_changes_its_sign_with_the_order(first, second, end_1, end_2):
    one, two = mean_curve([line(first, end_1)]), mean_curve([line(second, end_2)])
    assert difference_curve(one, two).load == pytest.approx(-difference_curve(two, one).load, abs=1e-9)
    assert difference_curve(one, one).load == pytest.approx(0.0, abs=1e-12)
