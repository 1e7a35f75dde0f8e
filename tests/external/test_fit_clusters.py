"""The robust standard error of a rate by person, against a definition worked out by hand and statsmodels."""

import numpy as np
import pytest
import statsmodels.api as sm

from fittings.domain.outcomes.clusters import person_sums, rate_of_people, robust_rate
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
