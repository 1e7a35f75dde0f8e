"""The robust standard error of a rate by person, against a definition worked out by hand and statsmodels."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import chi2_contingency
from statsmodels.stats.proportion import proportion_confint

from fittings.domain.outcomes.clusters import (
    corrected_p,
    design_effect,
    person_sums,
    rate_of_people,
    robust_rate,
    widened,
)
from fittings.domain.outcomes.comparisons import Estimate
from fittings.domain.outcomes.rates import rate_per_1000_km


def test_rate_of_four_people_with_all_events_in_two():
    """RE-01 (DEF): 4 persons, 10 units each, events 0 0 1 5; the Poisson error is 0.0612372."""
    found = robust_rate(person_sums([0, 0, 1, 5], [10.0] * 4))
    assert found.value == pytest.approx(0.15)
    assert found.standard_error == pytest.approx(0.1030776, abs=5e-8)
    assert found.log_standard_error == pytest.approx(0.687184, abs=5e-7)
    assert (found.low, found.high) == pytest.approx((0.039008, 0.576798), abs=5e-7)
    assert found.standard_error > 6**0.5 / 40 == pytest.approx(0.0612372, abs=5e-8)


def test_agrees_with_statsmodels_whatever_the_exposure():
    """A Poisson model of the intercept alone with exposure, sandwich covariance over one row a person."""
    draw = np.random.default_rng(11)
    events, km = draw.poisson(0.6, 300), draw.uniform(50.0, 900.0, 300)
    model = sm.GLM(events, np.ones((300, 1)), family=sm.families.Poisson(), exposure=km).fit(cov_type="HC0")
    found = robust_rate(person_sums(events, km))
    assert found.value == pytest.approx(np.exp(model.params[0]), rel=1e-9)
    assert found.log_standard_error == pytest.approx(model.bse[0], rel=1e-7)
    assert (found.low, found.high) == pytest.approx(tuple(np.exp(model.conf_int()[0])), rel=1e-7)


def test_rows_of_one_person_count_as_that_person():
    """Clustered covariance over rows is that of people added up (statsmodels, without its small-sample factor)."""
    draw = np.random.default_rng(12)
    who = np.repeat(np.arange(80), 3)
    events, km = draw.poisson(np.repeat(draw.gamma(0.5, 1.0, 80), 3)), draw.uniform(50.0, 300.0, 240)
    model = sm.GLM(events, np.ones((240, 1)), family=sm.families.Poisson(), exposure=km).fit(
        cov_type="cluster", cov_kwds={"groups": who, "use_correction": False}
    )
    sums = person_sums(np.bincount(who, events), np.bincount(who, km), [3] * 80)
    assert robust_rate(sums).log_standard_error == pytest.approx(model.bse[0], rel=1e-7)
    widened, exact = rate_of_people(sums), rate_per_1000_km(sums.events, sums.exposure)
    assert widened.low < exact.low < widened.per_1000_km < exact.high < widened.high


def test_design_effect_is_the_ratio_of_both_variances_of_statsmodels():
    """Clustered over model-based variance of the same Poisson model."""
    draw = np.random.default_rng(13)
    who = np.repeat(np.arange(80), 3)
    events, km = draw.poisson(np.repeat(draw.gamma(0.5, 1.0, 80), 3)), draw.uniform(50.0, 300.0, 240)
    model = sm.GLM(events, np.ones((240, 1)), family=sm.families.Poisson(), exposure=km)
    plain, by_person = (
        model.fit(**kind).bse[0]
        for kind in ({}, {"cov_type": "cluster", "cov_kwds": {"groups": who, "use_correction": False}})
    )
    sums = person_sums(np.bincount(who, events), np.bincount(who, km), [3] * 80)
    assert design_effect(sums) == pytest.approx((by_person / plain) ** 2, rel=1e-4)
    assert design_effect(person_sums(events, km)) == 1.0


def test_limits_of_a_share_hold_the_truth_where_complaints_of_one_person_come_together():
    """Simulated: 60 persons, 3 complaints each that come back together, 40 % within 26 weeks at a constant rate."""
    draw = np.random.default_rng(14)
    plain, robust = 0, 0
    for _ in range(400):
        weeks = draw.exponential(26.0 / -np.log(0.6), 60)
        back = 3 * (weeks < 26.0)
        limits = proportion_confint(back.sum(), 180, method="beta")
        sums = person_sums(back, 3 * np.minimum(weeks, 26.0), [3] * 60)
        wider = widened(Estimate(back.sum() / 180, *limits, ""), design_effect(sums))
        plain += limits[0] <= 0.4 <= limits[1]
        robust += wider.low <= 0.4 <= wider.high
    assert plain / 400 < 0.8
    assert robust / 400 > 0.93


def test_chi_squared_with_a_design_effect_is_that_of_one_row_a_person():
    """Every row three times: chi-squared trebles and so does its variance, so the correction gives it back."""
    once, p, degrees, _ = chi2_contingency([[20, 10], [12, 18]], correction=False)
    thrice = chi2_contingency([[60, 30], [36, 54]], correction=False).statistic
    assert corrected_p(thrice, degrees, 3.0) == pytest.approx((once, p), rel=1e-12)
