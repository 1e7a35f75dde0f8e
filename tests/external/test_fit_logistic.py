"""Logistic model against published results and an independent program."""

import numpy as np
import pytest
import statsmodels.api as sm

from fittings.domain.outcomes.logistic import logistic_model


def test_grades_after_a_new_way_of_teaching():
    """Spector and Mazzeo 1980, data PKG (statsmodels); coefficients printed by Greene, Econometric Analysis (MEM)."""
    data = sm.datasets.spector.load()
    found = logistic_model(data.exog.to_numpy(), data.endog.to_numpy() > 0, list(data.exog), events_each=1)
    assert [item.value for item in found.coefficients] == pytest.approx([-13.021, 2.826, 0.095, 2.379], abs=5e-4)
    assert [item.standard_error for item in found.coefficients] == pytest.approx([4.931, 1.263, 0.142, 1.065], abs=5e-4)
    assert found.log_likelihood == pytest.approx(-12.8896, abs=5e-5)
    # With the rule of ten events a coefficient, nothing is said of 11 improved grades and three terms.
    assert logistic_model(data.exog.to_numpy(), data.endog.to_numpy() > 0, list(data.exog)).coefficients == ()


def test_aspirin_and_heart_attack():
    """T-01, Agresti, Categorical Data Analysis, Table 2.3 (MEM; agrees): odds ratio 1.83 (1.44 to 2.33)."""
    group = np.repeat([1.0, 0.0], [11034, 11037])
    attack = np.concatenate([np.arange(11034) < 189, np.arange(11037) < 104])
    term = logistic_model(group[:, None], attack, ["placebo"]).coefficients[1]
    assert (term.odds_ratio, term.low, term.high) == pytest.approx((1.832054, 1.440042, 2.330780), abs=1e-6)
    assert term.standard_error == pytest.approx(0.1228416, abs=1e-7)


@pytest.mark.parametrize("seed", range(4))
def test_agrees_with_an_independent_program(seed):
    draw = np.random.default_rng(seed)
    n = 900
    design = np.column_stack(
        [draw.integers(0, 2, n), draw.normal(74, 13, n), draw.integers(0, 5, n), draw.gamma(3, 9, n)]
    )
    chance = 1 / (1 + np.exp(-(design @ [-0.5, 0.03, 0.3, 0.01] - 2.5)))
    happened = draw.random(n) < chance
    found = logistic_model(design, happened, ["a", "b", "c", "d"])
    other = sm.Logit(happened.astype(float), sm.add_constant(design)).fit(disp=0, tol=1e-12, maxiter=100)
    assert [item.value for item in found.coefficients] == pytest.approx(other.params, rel=1e-7, abs=1e-9)
    assert [item.standard_error for item in found.coefficients] == pytest.approx(other.bse, rel=1e-7)
    assert [item.p for item in found.coefficients] == pytest.approx(other.pvalues, rel=1e-6)
    assert found.log_likelihood == pytest.approx(other.llf, rel=1e-10)
    intervals = np.exp(other.conf_int())
    assert [(item.low, item.high) for item in found.coefficients] == [
        pytest.approx(pair, rel=1e-6) for pair in intervals
    ]
