"""Intervals of standard deviations from mean squares."""

import math

import numpy as np
import pytest
from scipy.stats import chi2

from labtests.domain.studies.variance import MeanSquare, between_sd_interval, sd_interval


@pytest.mark.parametrize("level", [0.9, 0.95])
def test_one_mean_square_gives_the_chi_squared_interval(level):
    found = sd_interval([MeanSquare(1.0, 4.0, 12.0)], level=level)
    tail = (1 - level) / 2
    assert found.low == pytest.approx(math.sqrt(48 / chi2.ppf(1 - tail, 12)))
    assert found.high == pytest.approx(math.sqrt(48 / chi2.ppf(tail, 12)))
    assert found.level == level


def test_a_sum_of_equal_mean_squares_is_surer_than_one_of_them():
    together = sd_interval([MeanSquare(0.5, 4.0, 6.0), MeanSquare(0.5, 4.0, 6.0)])
    one = sd_interval([MeanSquare(1.0, 4.0, 6.0)])
    assert one.low < together.low < 2.0 < together.high < one.high


def test_a_mean_square_that_vanishes_leaves_the_exact_interval_of_the_other():
    exact = sd_interval([MeanSquare(0.5, 4.0, 6.0)])
    found = sd_interval([MeanSquare(0.5, 4.0, 6.0), MeanSquare(0.5, 0.0, 2.0)])
    assert (found.low, found.high) == pytest.approx((exact.low, exact.high))


def test_no_variance_has_an_interval_of_no_width():
    found = sd_interval([MeanSquare(1.0, 0.0, 5.0)])
    assert (found.low, found.high) == (0.0, 0.0)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    rng = np.random.default_rng(5)
    samples = rng.normal(0.0, 2.0, (2000, 8)).var(axis=1, ddof=1)
    found = [sd_interval([MeanSquare(1.0, float(value), 7.0)], level=0.9) for value in samples]
    share = np.mean([one.low <= 2.0 <= one.high for one in found])
    assert share == pytest.approx(0.9, abs=0.02)


def test_interval_of_a_difference_of_mean_squares_covers_the_truth_as_often_as_it_says():
    # Seven groups of four: between sd 1.5, within sd 1; the standard error of 4000 coverages of 0.95 is 0.0035.
    rng = np.random.default_rng(20)
    cube = 1.5 * rng.normal(size=(4000, 7, 1)) + rng.normal(size=(4000, 7, 4))
    between = 4 * cube.mean(axis=2).var(axis=1, ddof=1)
    within = cube.var(axis=2, ddof=1).mean(axis=1)
    found = [
        between_sd_interval(MeanSquare(0.25, b, 6), MeanSquare(0.25, w, 21))
        for b, w in zip(between, within, strict=True)
    ]
    covered = np.mean([each.low <= 1.5 <= each.high for each in found])
    assert 0.94 <= covered <= 0.975


def test_interval_of_a_difference_without_error_is_that_of_the_mean_square_alone():
    exact = sd_interval([MeanSquare(0.25, 9.0, 8.0)])
    found = between_sd_interval(MeanSquare(0.25, 9.0, 8.0), MeanSquare(0.25, 0.0, 18.0))
    assert (found.low, found.high) == (pytest.approx(exact.low), pytest.approx(exact.high))


def test_interval_of_a_difference_far_below_zero_is_zero():
    found = between_sd_interval(MeanSquare(0.25, 0.01, 8.0), MeanSquare(0.25, 9.0, 18.0))
    assert (found.low, found.high) == (0.0, 0.0)
