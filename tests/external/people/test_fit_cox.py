"""Cox model against published results and two independent programs."""

import warnings

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from lifelines import CoxPHFitter
from lifelines.datasets import load_lung
from lifelines.statistics import proportional_hazard_test

from fittings.domain.outcomes.cox import cox_model


def lung(names):
    data = load_lung().dropna(subset=names)
    return data[names].to_numpy(dtype=float), data["time"].to_numpy(), data["status"].to_numpy() > 0


@pytest.mark.parametrize(
    ("names", "n", "efron", "errors", "breslow", "ratio"),
    [
        # CX-01 and CX-02: example output of R survival (PAGE); CX-03 DERIVED.
        (["age", "sex"], 228, [0.017045, -0.513219], [0.009223, 0.167458], [0.017013, -0.512565], 14.1231),
        (["ph.ecog", "age"], 227, [0.443485, 0.011281], [0.115831, 0.009319], [0.442693, 0.011269], 19.0557),
        (
            ["age", "sex", "ph.ecog"],
            227,
            [0.011067, -0.552612, 0.463728],
            [0.009267, 0.167739, 0.113577],
            [0.011041, -0.551890, 0.462947],
            30.5007,
        ),
    ],
    ids=["CX-01", "CX-02", "CX-03"],
)
def test_lung_cancer_patients(names, n, efron, errors, breslow, ratio):
    data = lung(names)
    found = cox_model(*data, names)
    assert found.n == n
    assert [item.value for item in found.coefficients] == pytest.approx(efron, abs=1e-6)
    assert [item.standard_error for item in found.coefficients] == pytest.approx(errors, abs=1e-6)
    assert 2 * (found.log_likelihood - found.log_likelihood_null) == pytest.approx(ratio, abs=1e-4)
    found = cox_model(*data, names, ties="breslow")
    assert [item.value for item in found.coefficients] == pytest.approx(breslow, abs=1e-6)


def test_hazard_ratio_of_women_with_its_interval():
    """CX-01, PAGE: 0.5986 (0.4311 to 0.8311)."""
    sex = cox_model(*lung(["age", "sex"]), ["age", "sex"]).coefficients[1]
    assert (sex.hazard_ratio, sex.low, sex.high) == pytest.approx((0.5986, 0.4311, 0.8311), abs=5e-5)


def made_up(seed, *, ties, n=600):
    draw = np.random.default_rng(seed)
    design = np.column_stack(
        [draw.integers(0, 2, n), draw.normal(7, 1.3, n), draw.integers(0, 5, n), draw.gamma(3, 0.9, n)]
    ).astype(float)
    until = draw.exponential(30 * np.exp(-(design @ [-0.4, 0.1, 0.2, 0.05])))
    watched = draw.uniform(1, 40, n)
    time = np.minimum(until, watched)
    return design, np.ceil(time) if ties else time, until <= watched, draw


def fitted(design, time, event, **more):
    names = ["a", "b", "c", "d"]
    frame = pd.DataFrame(design, columns=names).assign(T=time, E=event, **more)
    options = {"strata": ["stratum"]} if "stratum" in more else {}
    options |= {"cluster_col": "person"} if "person" in more else {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return CoxPHFitter().fit(frame, "T", "E", fit_options={"precision": 1e-11}, **options), frame


@pytest.mark.parametrize("ties", [False, True])
@pytest.mark.parametrize("seed", range(2))
def test_agrees_with_two_independent_programs(seed, ties):
    design, time, event, _ = made_up(seed, ties=ties)
    found = cox_model(design, time, event, ["a", "b", "c", "d"])
    other, frame = fitted(design, time, event)
    assert [item.value for item in found.coefficients] == pytest.approx(other.params_.to_numpy(), abs=1e-6)
    assert [item.standard_error for item in found.coefficients] == pytest.approx(
        other.standard_errors_.to_numpy(), abs=1e-6
    )
    assert [item.p for item in found.coefficients] == pytest.approx(other.summary["p"].to_numpy(), abs=1e-6)
    assert found.log_likelihood == pytest.approx(other.log_likelihood_, abs=1e-6)
    for name in ("efron", "breslow"):
        mine = cox_model(design, time, event, ["a", "b", "c", "d"], ties=name)
        second = sm.PHReg(time, design, status=event, ties=name).fit(tol=1e-12)
        assert [item.value for item in mine.coefficients] == pytest.approx(second.params, abs=1e-6)
        assert [item.standard_error for item in mine.coefficients] == pytest.approx(second.bse, abs=1e-6)
    constant = proportional_hazard_test(other, frame, time_transform="identity").p_value
    assert [item.p_constant for item in found.coefficients] == pytest.approx(constant, abs=1e-5)


def test_baselines_of_their_own_agree_with_an_independent_program():
    design, time, event, draw = made_up(5, ties=True)
    stratum = draw.integers(0, 6, time.size)
    found = cox_model(design, time, event, ["a", "b", "c", "d"], stratum=stratum)
    other, _ = fitted(design, time, event, stratum=stratum)
    assert [item.value for item in found.coefficients] == pytest.approx(other.params_.to_numpy(), abs=1e-6)
    assert found.log_likelihood == pytest.approx(other.log_likelihood_, abs=1e-6)


def test_robust_errors_by_person_agree_with_an_independent_program_without_ties():
    design, time, event, draw = made_up(6, ties=False)
    person = draw.integers(0, 150, time.size)
    found = cox_model(design, time, event, ["a", "b", "c", "d"], person=person)
    other, _ = fitted(design, time, event, person=person)
    assert [item.robust_error for item in found.coefficients] == pytest.approx(
        other.standard_errors_.to_numpy(), abs=1e-6
    )


def test_late_entry_agrees_with_an_independent_program():
    design, time, event, draw = made_up(7, ties=True)
    # Never at the time of an event, where programs differ on who is at risk.
    entered = np.where(draw.random(time.size) < 0.4, np.floor(draw.random(time.size) * time) + 0.5, 0.0)
    found = cox_model(design, time, event, ["a", "b", "c", "d"], entered=entered, ties="breslow")
    other = sm.PHReg(time, design, status=event, entry=entered, ties="breslow").fit(tol=1e-12)
    assert [item.value for item in found.coefficients] == pytest.approx(other.params, abs=1e-6)
    assert [item.standard_error for item in found.coefficients] == pytest.approx(other.bse, abs=1e-6)
