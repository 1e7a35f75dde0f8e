"""Shrinking of many groups against a published example and independent programs."""

import numpy as np
import pytest
from scipy.stats import gamma
from statsmodels.stats.meta_analysis import combine_effects

from fittings.domain.outcomes.shrinkage import shrink_means, shrink_rates

SCHOOLS = [28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0]
SCHOOL_ERRORS = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])


def test_coaching_in_eight_schools():
    """Rubin 1981, as in Gelman et al., Bayesian Data Analysis, section 5.5 (MEM): common effect 7.7 (SE 4.1), and no
    more spread than chance makes, so every school is given the common effect."""
    found = shrink_means(SCHOOLS, SCHOOL_ERRORS**2)
    assert found.centre == pytest.approx(7.7, abs=0.05)
    assert 1 / np.sqrt((1 / SCHOOL_ERRORS**2).sum()) == pytest.approx(4.1, abs=0.05)
    assert found.between == 0
    assert found.value == pytest.approx([found.centre] * 8)


@pytest.mark.parametrize("seed", range(4))
def test_variance_between_groups_and_common_mean_agree_with_an_independent_program(seed):
    draw = np.random.default_rng(seed)
    variance = draw.uniform(0.2, 3.0, 12)
    mean = draw.normal(0, 1.5, 12) + draw.normal(0, np.sqrt(variance))
    found = shrink_means(mean, variance)
    other = combine_effects(mean, variance, method_re="dl", row_names=[str(i) for i in range(12)])
    assert found.between == pytest.approx(other.tau2, rel=1e-10)
    assert found.centre == pytest.approx(other.mean_effect_re, rel=1e-10)


def test_intervals_of_rates_are_those_of_the_gamma_distribution():
    events, expected = np.array([2, 30, 10, 0]), np.array([10.0, 11.0, 9.0, 6.0])
    found = shrink_rates(events, expected)
    rate = found.centre / found.between
    for index in range(4):
        posterior = gamma(found.centre * rate + events[index], scale=1 / (rate + expected[index]))
        assert found.value[index] == pytest.approx(posterior.mean(), rel=1e-10)
        assert (found.low[index], found.high[index]) == pytest.approx(posterior.interval(0.95), rel=1e-9)
