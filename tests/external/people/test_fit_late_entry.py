"""Curves and the log-rank test with late entry against lifelines and statsmodels; no published table was found."""

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from statsmodels.duration.hazard_regression import PHReg

from fittings.domain.outcomes.late_entry import late_life_table
from fittings.domain.outcomes.survival import curve_of, log_rank_of


@pytest.fixture(scope="module")
def people():
    """Entry, end, event and group of 160 people, half of them late; no two ends are the same."""
    draw = np.random.default_rng(21)
    entry = np.where(np.arange(160) % 2, draw.uniform(0.5, 10.0, 160), 0.0)
    end = entry + draw.exponential(20.0, 160)
    return entry, end, draw.random(160) < 0.7, draw.integers(0, 2, 160)


def test_curve_is_that_of_lifelines(people):
    entry, end, event, _ = people
    curve = curve_of(late_life_table(entry, end, np.ones(160), event))
    other = KaplanMeierFitter().fit(end, event, entry=entry)
    assert curve.survival == pytest.approx(other.survival_function_at_times(curve.time).to_numpy(), rel=1e-12)
    assert curve.at_risk.tolist() == other.event_table.loc[curve.time, "at_risk"].tolist()


def test_log_rank_is_the_score_test_of_the_cox_model_of_statsmodels(people):
    """Without ties both are the same statistic."""
    entry, end, event, group = people
    tables = [late_life_table(entry[of], end[of], np.ones(of.sum()), event[of]) for of in (group == 0, group == 1)]
    model = PHReg(end, group[:, None].astype(float), status=event, entry=entry)
    score, information = model.score(np.zeros(1))[0], -model.hessian(np.zeros(1))[0, 0]
    assert log_rank_of(tables).chi_squared == pytest.approx(score**2 / information, rel=1e-9)
