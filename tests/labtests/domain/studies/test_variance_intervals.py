"""Intervals of standard deviations from mean squares."""

import math

import numpy as np
import pytest
from scipy.stats import chi2

from labtests.domain.studies.variance import MeanSquare, sd_interval


@pytest.mark.parametrize("level", [0.9, 0.95])
def test_one_mean_square_gives_the_chi_squared_interval(level):
    found = sd_interval([MeanSquare(1.0, 4.0, 12.0)], level=level)
    tail = (1 - level) / 2
    assert found.low == pytest.approx(math.sqrt(48 / chi2.ppf(1 - tail, 12)))
    assert found.high == pytest.approx(math.sqrt(48 / chi2.ppf(tail, 12)))
    assert found.level == level


def test_a_sum_of_equal_mean_squares_counts_their_degrees_of_freedom_together():
    together = sd_interval([MeanSquare(0.5, 4.0, 6.0), MeanSquare(0.5, 4.0, 6.0)])
    assert (together.low, together.high) == pytest.approx(
        (sd_interval([MeanSquare(1.0, 4.0, 12.0)]).low, sd_interval([MeanSquare(1.0, 4.0, 12.0)]).high)
    )


def test_no_variance_has_an_interval_of_no_width():
    found = sd_interval([MeanSquare(1.0, 0.0, 5.0)])
    assert (found.low, found.high) == (0.0, 0.0)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    rng = np.random.default_rng(5)
    samples = rng.normal(0.0, 2.0, (2000, 8)).var(axis=1, ddof=1)
    found = [sd_interval([MeanSquare(1.0, float(value), 7.0)], level=0.9) for value in samples]
    share = np.mean([one.low <= 2.0 <= one.high for one in found])
    assert share == pytest.approx(0.9, abs=0.02)
