"""Kaplan-Meier and log-rank against the 6-MP remission data and two independent programs.

Data: Freireich et al. 1963 / Gehan 1965, as in Kleinbaum and Klein and in the open-source package lifelines.
Confidence: data PAGE and PKG, curve and log-rank recomputed by three programs, printed values MEM (16.79; medians 23
and 8).
"""

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.datasets import load_leukemia
from lifelines.statistics import logrank_test, multivariate_logrank_test
from scipy.stats import norm
from statsmodels.duration.survfunc import SurvfuncRight, survdiff

from tests.reference.survival import kaplan_meier, log_rank

TREATED = [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
RELAPSED = [True] * 9 + [False] * 12
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]

# t, at risk, events, S, Greenwood SE, 95 % log-log band (PAGE/PKG, recomputed)
CURVE = [
    (6, 21, 3, 0.857143, 0.076360, 0.6197, 0.9516),
    (7, 17, 1, 0.806723, 0.086935, 0.5631, 0.9228),
    (10, 15, 1, 0.752941, 0.096350, 0.5032, 0.8894),
    (13, 12, 1, 0.690196, 0.106815, 0.4316, 0.8491),
    (16, 11, 1, 0.627451, 0.114054, 0.3675, 0.8049),
    (22, 7, 1, 0.537815, 0.128234, 0.2678, 0.7468),
    (23, 6, 1, 0.448179, 0.134591, 0.1881, 0.6801),
]
PLACEBO_CURVE = {
    1: (0.904762, 0.064056), 2: (0.809524, 0.085689), 3: (0.761905, 0.092943), 4: (0.666667, 0.102869),
    5: (0.571429, 0.107990), 8: (0.380952, 0.105971), 11: (0.285714, 0.098581), 12: (0.190476, 0.085689),
    15: (0.142857, 0.076360), 17: (0.095238, 0.064056), 22: (0.047619, 0.046471), 23: (0.0, 0.0),
}  # fmt: skip


def test_the_data_are_those_of_the_package():
    frame = load_leukemia()
    groups = [frame[frame["Rx"] == code] for code in (0, 1)]
    assert sorted(sorted(group["t"]) for group in groups) == sorted([sorted(TREATED), sorted(PLACEBO)])
    assert sorted(int(group["status"].sum()) for group in groups) == [9, 21]


def log_log_band(curve):
    """The band that other programs print, from our standard error; our own limits are beta products."""
    log_survival = np.log(curve.survival)
    reach = norm.ppf(0.975) * curve.standard_error / curve.survival / log_survival
    return curve.survival ** np.exp(-reach), curve.survival ** np.exp(reach)


def first_with_half(curve):
    return curve.time[np.flatnonzero(curve.survival <= 0.5 + 1e-12)[0]]


def test_curve_of_the_treated_group():
    curve = kaplan_meier(TREATED, RELAPSED)
    found = np.column_stack([curve.time, curve.at_risk, curve.events, curve.survival, curve.standard_error])
    assert found == pytest.approx(np.array([row[:5] for row in CURVE]), abs=1e-6)
    low, high = log_log_band(curve)
    assert low == pytest.approx([row[5] for row in CURVE], abs=5e-5)
    assert high == pytest.approx([row[6] for row in CURVE], abs=5e-5)


def test_curve_of_the_placebo_group():
    curve = kaplan_meier(PLACEBO, [True] * 21)
    assert curve.time.tolist() == list(PLACEBO_CURVE)
    assert curve.survival == pytest.approx([s for s, _ in PLACEBO_CURVE.values()], abs=1e-6)
    assert curve.standard_error == pytest.approx([e for _, e in PLACEBO_CURVE.values()], abs=1e-6)


def test_medians():
    assert first_with_half(kaplan_meier(TREATED, RELAPSED)) == 23
    assert first_with_half(kaplan_meier(PLACEBO, [True] * 21)) == 8


def test_log_rank():
    found = log_rank([(TREATED, RELAPSED), (PLACEBO, [True] * 21)])
    assert found.observed == (9.0, 21.0)
    assert found.expected == pytest.approx((19.250501, 10.749499), abs=1e-6)
    assert found.chi_squared == pytest.approx(16.792941, abs=1e-6)
    assert found.p == pytest.approx(4.1688e-05, abs=1e-9)
    assert found.degrees == 1


def made_up(seed, groups, n=400):
    draw = np.random.default_rng(seed)
    time = draw.integers(1, 90, n)
    return time, draw.random(n) < 0.4, draw.integers(0, groups, n)


@pytest.mark.parametrize("seed", range(3))
def test_curve_agrees_with_two_independent_programs_with_many_ties(seed):
    time, event, _ = made_up(seed, 2)
    curve = kaplan_meier(time, event)
    fitter = KaplanMeierFitter().fit(time, event)
    band = fitter.confidence_interval_.loc[curve.time]
    assert curve.survival == pytest.approx(fitter.predict(curve.time).to_numpy(), abs=1e-12)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = log_log_band(curve)
    left = curve.survival > 0
    assert low[left] == pytest.approx(band.iloc[:, 0].to_numpy()[left], abs=1e-9)
    assert high[left] == pytest.approx(band.iloc[:, 1].to_numpy()[left], abs=1e-9)
    other = SurvfuncRight(time, event)
    at = np.searchsorted(other.surv_times, curve.time)
    assert curve.survival == pytest.approx(other.surv_prob[at], abs=1e-12)
    assert curve.standard_error == pytest.approx(other.surv_prob_se[at], abs=1e-12, nan_ok=True)


@pytest.mark.parametrize("seed", range(3))
def test_log_rank_agrees_with_two_independent_programs(seed):
    time, event, group = made_up(seed, 2)
    parts = [(time[group == g], event[group == g]) for g in (0, 1)]
    found = log_rank(parts)
    first = logrank_test(parts[0][0], parts[1][0], parts[0][1], parts[1][1])
    assert found.chi_squared == pytest.approx(first.test_statistic, rel=1e-10)
    chi_squared, p = survdiff(time, event, group)
    assert (found.chi_squared, found.p) == pytest.approx((chi_squared, p), rel=1e-10)


def test_log_rank_of_four_groups_agrees_with_an_independent_program():
    time, event, group = made_up(7, 4)
    found = log_rank([(time[group == g], event[group == g]) for g in range(4)])
    other = multivariate_logrank_test(time, group, event)
    assert found.chi_squared == pytest.approx(other.test_statistic, rel=1e-9)
    assert found.p == pytest.approx(other.p_value, rel=1e-9)
    assert found.degrees == 3
