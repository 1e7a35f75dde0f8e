"""Coverage factors, pooled variances, nested levels and correlated inputs against published numbers.

Ids are those of the project's list of check values. PAGE: seen in a public page; MEM: from memory; DERIVED: calculated
from published numbers.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import optimize, stats

from core.domain.coverage import coverage_factor, coverage_factors, whole_df
from labtests.domain.scores.consistency import check_consistency, grubbs_p, trend_p
from labtests.domain.scores.evaluation import Evaluation, Repeat, summarise
from labtests.domain.scores.places import TestPlaces
from labtests.domain.scores.scoring import S1, estimated_work_j
from labtests.domain.scores.shoe_scores import BenchTestScores, Pooled, combine_all, shoe_score
from labtests.domain.studies.variance import MeanSquare, sd_interval
from labtests.domain.uncertainty.components import Pool, component, homogeneity
from labtests.domain.uncertainty.propagation import Component, combined_covariance
from labtests.domain.uncertainty.scatter import Scatter, choose_scatter, pool_repeats
from labtests.domain.uncertainty.uncertainty import Calibration
from tests.reference.one_output import effective_df
from tests.reference.one_test import uncertainty_of_test

# CF, PAGE: JCGM 100:2008 (GUM) Table G.2 = NIST TN 1297 Table B.1, column 95.45 %: printed, and exact from Student's t.
TABLE_G2 = [
    (1, 13.97, 13.967811), (2, 4.53, 4.526551), (3, 3.31, 3.306830), (4, 2.87, 2.869315), (5, 2.65, 2.648654),
    (6, 2.52, 2.516528), (7, 2.43, 2.428809), (8, 2.37, 2.366419), (9, 2.32, 2.319809), (10, 2.28, 2.283682),
    (15, 2.18, 2.181166), (20, 2.13, 2.133028), (50, 2.05, 2.051251),
]  # fmt: skip
ONE = np.array([1.0, 0.0, 0.0, 0.0])


@pytest.mark.parametrize(("df", "printed", "exact"), TABLE_G2)
def test_coverage_factors_of_table_g2(df, printed, exact):
    assert coverage_factor(df) == pytest.approx(exact, abs=5e-7)
    assert round(coverage_factor(df), 2) == printed
    # Not the whole next degree of freedom: the table is entered with the lower one.
    assert coverage_factor(df + 0.999) == coverage_factor(df)
    assert coverage_factors(np.array([df + 0.5]))[0] == coverage_factor(df)


def test_unlimited_degrees_of_freedom_give_two():
    assert coverage_factor(None) == coverage_factor(math.inf) == 2.0


def test_effective_degrees_of_freedom_are_cut_off():
    # CF-01, DERIVED: at 95 % the table gives 2.446912 with 6 and 2.364624 with 7; here 95.45 % is used.
    parts = [Component("a", "A", 0.5, "", 4.0), Component("b", "A", 0.3, "", 9.0)]
    df = effective_df(parts, [1.0, 1.0])
    assert df == pytest.approx(6.995461, abs=5e-7)
    assert whole_df(df) == 6
    assert stats.t.ppf(0.975, whole_df(df)) == pytest.approx(2.446912, abs=5e-7)
    assert coverage_factor(df) == pytest.approx(2.516528, abs=5e-7)


# NU, PAGE: NIST/SEMATECH e-Handbook 2.4.4, wafer 140, probe 2362: daily means and standard deviations of six.
RUNS = (
    ((96.0771, 95.9976, 96.0148, 96.0397, 96.0407, 96.0445), (0.1024, 0.0943, 0.0622, 0.0702, 0.0627, 0.0622)),
    ((96.0793, 96.1115, 96.0803, 96.0411, 96.0988, 96.0482), (0.0996, 0.0533, 0.0364, 0.0768, 0.1042, 0.0868)),
)


def pooled_variance(sds, df):
    """Pool as a rig's history is pooled, from repeats with these standard deviations, df degrees of freedom each."""
    apart = np.zeros((len(sds), df + 1))
    apart[:, 0] = np.array(sds) * math.sqrt(df / 2)
    apart[:, 1] = -apart[:, 0]
    scatter, _ = pool_repeats(np.repeat(np.arange(len(sds)), df + 1), np.repeat(apart.reshape(-1, 1), 3, axis=1))
    return scatter.torque_nm2


def test_repeats_pool_over_days_and_runs():
    # NU-01
    of_runs = [math.sqrt(pooled_variance(sds, 5)) for _, sds in RUNS]
    assert of_runs == pytest.approx([0.0774330, 0.0799751], abs=5e-8)
    assert math.sqrt(pooled_variance([sd for _, sds in RUNS for sd in sds], 5)) == pytest.approx(0.0787144, abs=5e-8)


def test_nested_levels_keep_a_negative_estimate_beside_its_zero():
    # NU-02, NU-03, NU-05: days within runs, runs.
    squares = [float(np.var(means, ddof=1)) * 5 for means, _ in RUNS]
    assert squares == pytest.approx([0.0037208, 0.0037986], abs=5e-8)
    repeats = pooled_variance([sd for _, sds in RUNS for sd in sds], 5)
    days = component(Pool(2, 10, ONE * sum(squares), ONE * 10 * repeats / 6), ONE)
    assert math.sqrt(days.mean_square) == pytest.approx(0.0274216, abs=5e-8)
    assert (days.raw, days.variance) == (pytest.approx(-2.807155e-4, rel=1e-6), 0.0)
    assert days.component_df is None
    runs = float(np.var([np.mean(means) for means, _ in RUNS], ddof=1))
    assert math.sqrt(runs) == pytest.approx(0.0288500, abs=5e-8)
    of_runs = component(Pool(1, 1, ONE * runs, ONE * days.mean_square / 6), ONE)
    assert of_runs.raw == pytest.approx(7.069962e-4, rel=1e-6)
    # NU-06: one run, one day, six readings, negative estimates as 0.
    u = math.sqrt(of_runs.variance + days.variance + repeats / 6)
    assert u == pytest.approx(0.0417092, abs=5e-8)
    assert math.sqrt(of_runs.raw + days.raw + repeats / 6) == pytest.approx(0.0381961, abs=5e-8)


def test_levels_of_five_runs_pool():
    # NU-04, PAGE; the interval DERIVED from chi-square.
    sds = (0.0223, 0.0027, 0.0289, 0.0133, 0.0205)
    variance = pooled_variance(sds, 1)
    assert math.sqrt(variance) == pytest.approx(0.0196821, abs=5e-8)
    interval = sd_interval([MeanSquare(1.0, variance, 5.0)])
    assert (interval.low, interval.high) == pytest.approx((0.012286, 0.048273), abs=5e-7)


def test_nested_analysis_of_twenty_days():
    # NU-07, PAGE: vignette of an open-source package, 20 days × 2 runs × 2.
    day, run, error = 1506.145222 / 19, 606.928138 / 20, 651.360839 / 40
    runs = component(Pool(20, 20, ONE * 606.928138 / 2, ONE * 20 * error / 2), ONE)
    days = component(Pool(19, 19, ONE * 1506.145222 / 4, ONE * 19 * run / 4), ONE)
    assert (days.raw, runs.raw, error) == pytest.approx((12.231099, 7.031193, 16.284021), abs=5e-7)
    assert days.raw + runs.raw + error == pytest.approx(35.546313, abs=5e-7)
    parts = [Component("", "A", math.sqrt(v), "", df) for v, df in ((day / 4, 19), (run / 4, 20), (error / 2, 40))]
    assert effective_df(parts, [1.0] * 3) == pytest.approx(50.129098, abs=5e-7)


def test_correlated_inputs_add_up_whole():
    # CO-01, MEM and by definition: JCGM 100:2008 (GUM), 5.2.2, ten resistors against one standard, ohm.
    ones, u2 = np.ones((1, 10)), 0.1**2
    assert math.sqrt(combined_covariance(ones, np.full((10, 10), u2))[0, 0]) == pytest.approx(1.0)
    assert math.sqrt(combined_covariance(ones, u2 * np.eye(10))[0, 0]) == pytest.approx(0.316228, abs=5e-7)


def test_correlation_of_a_fitted_line_counts():
    # CO-02: JCGM 100:2008 (GUM), H.3, b at 30 °C from the line; MEM 0.0041, agrees.
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]) - 20.0
    b = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])
    design = np.column_stack([np.ones_like(t), t])
    found, residual, *_ = np.linalg.lstsq(design, b)
    covariance = np.linalg.inv(design.T @ design) * residual[0] / (len(t) - 2)
    at_30 = np.array([[1.0, 10.0]])
    assert found == pytest.approx([-0.171204, 0.00218270], rel=5e-6)
    assert math.sqrt(combined_covariance(at_30, covariance)[0, 0]) == pytest.approx(0.004139, abs=5e-7)
    apart = np.diag(np.diag(covariance))
    assert math.sqrt(combined_covariance(at_30, apart)[0, 0]) == pytest.approx(0.007273, abs=5e-7)


KNOWN = [Calibration(name, 0.01, 0.01) for name in ("torque", "displacement", "angle", "force")]


def repeats_of(rows):
    repeats = tuple(
        Repeat(number, torque_15_nm=t, deflection_mm=d, work_j=estimated_work_j(d))
        for number, (t, d) in enumerate(rows, start=1)
    )
    columns = [[getattr(one, name) for one in repeats] for name in ("torque_15_nm", "deflection_mm", "work_j")]
    return Evaluation(repeats, *map(summarise, columns), None, True, ())


@pytest.mark.parametrize(
    ("rows", "type_a"),
    [
        ([(4.40, 6.95), (4.50, 6.80), (4.60, 6.65)], 0.914),
        ([(4.40, 6.65), (4.50, 6.80), (4.60, 6.95)], 0.224),
    ],
)
def test_joint_repeats(rows, type_a):
    # DERIVED: s/√3 of the repeats' stability by S1; 0.665 where torque and deflection were taken as independent.
    evaluation = repeats_of(rows)
    found = uncertainty_of_test(evaluation, choose_scatter(evaluation, None), KNOWN, model=S1)
    assert found.scores["stability"].type_a == pytest.approx(type_a, abs=0.0005)


def test_two_tests_of_one_specimen_eight_points_apart_are_not_sure():
    one, place = np.ones(2), np.zeros(2, dtype=np.int64)
    tests = BenchTestScores(np.array([54.0, 62.0]), 0.3 * one, 0.2 * one, 30 * one, np.inf * one)
    places = TestPlaces(specimen=place, shoe_of=place[:1], shoes=1, rig=place, day=np.array([1, 2]), rigs=1)
    pooled = Pooled(np.zeros(1), np.full(1, np.inf), 0.05, 0.05**2 / 40)
    found = shoe_score(combine_all(tests, places, pooled))
    # Both tests are inside, which ± 0.58 did not hold.
    assert coverage_factor(found.df) * found.u > 4.0


def test_a_repeat_far_from_the_others_is_held():
    evaluation = repeats_of([(4.50, 6.8), (4.52, 6.8), (9.0, 6.8)])
    assert [reason.code for reason in check_consistency(evaluation, None, S1)] == ["repeat_outlier"]


def test_grubbs_against_its_published_example():
    # Mass spectrometer data of NIST/SEMATECH e-Handbook 1.3.5.17.1; G and the critical value of the one-sided test at
    # 5 % PKG (test file of an R package for these data).
    values = np.array([199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57])

    def with_last(last):
        return np.array([*values[:-1], last])

    def g_of(last):
        found = with_last(last)
        return float(np.abs(found - found.mean()).max() / found.std(ddof=1))

    assert g_of(values[-1]) == pytest.approx(2.468765, abs=5e-7)
    assert grubbs_p(values) < 1e-6
    # A last value with just the critical G: two-sided twice 5 %.
    critical = optimize.brentq(lambda last: g_of(last) - 2.031652, 203.0, 240.0)
    assert grubbs_p(with_last(critical)) == pytest.approx(0.10, abs=1e-5)


def test_slope_and_homogeneity_are_those_of_scipy():
    rng = np.random.default_rng(4)
    values = rng.normal(0.0, 1.0, 7) + 0.3 * np.arange(7)
    assert trend_p(values) == pytest.approx(stats.linregress(np.arange(7), values).pvalue, rel=1e-9)
    groups = [rng.normal(0.0, sd, n) for sd, n in ((1.0, 4), (1.3, 6), (0.7, 3), (2.0, 9))]
    found = homogeneity(np.array([g.var(ddof=1) for g in groups]), np.array([len(g) - 1.0 for g in groups]))
    statistic, p = stats.bartlett(*groups)
    assert (found.statistic, found.p) == pytest.approx((statistic, p), rel=1e-9)


def test_scatter_of_the_rig_is_used_for_fewer_than_three_repeats():
    evaluation = repeats_of([(4.40, 6.95), (4.50, 6.80)])
    pooled = Scatter(0.01, 0.02, 0.001, 0.004, 40.0, "repeats, pooled history of the rig")
    assert choose_scatter(evaluation, pooled) is pooled
