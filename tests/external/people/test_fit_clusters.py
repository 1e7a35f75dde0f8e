"""The robust standard error of a rate by person, against a definition worked out by hand and statsmodels."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import chi2_contingency

from fittings.domain.outcomes.clusters import (
    corrected_p,
    design_effect,
    person_sums,
    rate_of_people,
    robust_rate,
    widened,
)
from fittings.domain.outcomes.comparisons import Estimate
from fittings.domain.outcomes.onset import onset_test
from fittings.domain.outcomes.rates import rate_per_1000_km
from fittings.domain.outcomes.visits import at_visits, visit_curve

MARK_WEEKS = (2, 6, 12, 26)


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


def two_complaints_a_person(draw, people):
    """Follow-ups at 2, 6, 12 and 26 weeks; both complaints of a person come back together, some people stop early."""
    who, visits = np.repeat(np.arange(people), 2), np.array([0.0, *MARK_WEEKS, np.inf])
    weeks = draw.exponential(50.0, people)[who]
    place = np.searchsorted(visits, weeks)
    report, until = visits[place], draw.choice([6.0, 12.0, 26.0, 26.0], people)[who]
    back = report <= until
    seen = at_visits(
        np.where(back, visits[place - 1], until), np.where(back, report, np.inf), np.ones(2 * people), MARK_WEEKS
    )
    km = np.bincount(who, 20.0 * np.minimum(report, until))
    return seen, person_sums(np.bincount(who, back), km, np.bincount(who))


def test_limits_of_the_curve_and_its_test_are_right_for_two_complaints_a_person():
    """Simulated: 95 % limits at each follow-up hold the truth, and alike groups differ at 5 % as often as they should.

    Without the design effect the limits hold it in 80 to 90 %, and alike groups differ in about 16 %.
    """
    draw, runs = np.random.default_rng(14), 160
    plain, wider, refuted = np.zeros(4), np.zeros(4), np.zeros(2)
    for _ in range(runs):
        (seen, sums), (others, other_sums) = (two_complaints_a_person(draw, 60) for _ in range(2))
        curve, effect = visit_curve(seen, MARK_WEEKS), design_effect(sums)
        truth = np.exp(-np.array(MARK_WEEKS) / 50.0)
        plain += (curve.low <= truth) & (truth <= curve.high)
        limits = [
            widened(Estimate(*map(float, point), ""), effect)
            for point in zip(curve.share, curve.low, curve.high, strict=True)
        ]
        wider += [found.low <= value <= found.high for found, value in zip(limits, truth, strict=True)]
        test = onset_test([seen, others])
        corrected = corrected_p(test.chi_squared, 1, max(effect, design_effect(other_sums)))
        refuted += [test.p < 0.05, corrected[1] < 0.05]
    # Three standard errors of 95 % in 160 runs are 5 %.
    assert plain.min() / runs < 0.87
    assert all(share >= 0.9 for share in wider / runs)
    assert refuted[0] / runs > 0.11
    assert refuted[1] / runs <= 0.1


def test_chi_squared_with_a_design_effect_is_that_of_one_row_a_person():
    """Every row three times: chi-squared trebles and so does its variance, so the correction gives it back."""
    once, p, degrees, _ = chi2_contingency([[20, 10], [12, 18]], correction=False)
    thrice = chi2_contingency([[60, 30], [36, 54]], correction=False).statistic
    assert corrected_p(thrice, degrees, 3.0) == pytest.approx((once, p), rel=1e-12)
