"""Intervals of variance components against published limits, pivotal quantities by simulation, and an R package's."""

import math

import numpy as np
import pytest
from scipy.stats import chi2

from labtests.domain.studies.gauge import gauge_study
from labtests.domain.studies.interlab import precision
from labtests.domain.studies.variance import MeanSquare, between_sd_interval, sd_interval
from tests.external.measurement.test_lab_repeatability import DATA_A

P, O, R = 10, 3, 3


@pytest.fixture(scope="module")
def study_a():
    cube = np.array(DATA_A.split(), dtype=float).reshape(P, O, R)
    parts, operators, _ = np.indices(cube.shape)
    return gauge_study([f"{n}" for n in parts.ravel()], [f"{n}" for n in operators.ravel()], cube.ravel())


def squared(interval):
    return interval.low**2, interval.high**2


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("repeatability_sd", 0.368158, 0.757543),  # GI-01
        ("operator_sd", 0.072962, 25.750770),  # GI-02
        ("interaction_sd", 0.332725, 1.792720),  # GI-03
        ("grr_sd", 1.206226, 27.017239),  # GI-04
        ("part_sd", 22.694519, 161.639184),  # GI-05
    ],
)
def test_limits_of_the_components_are_the_published_ones(study_a, name, low, high):
    """CHECKS_SECOND 14: modified large sample, PAGE (test file of an R package for these data)."""
    assert squared(getattr(study_a, name)) == pytest.approx((low, high), abs=6e-7, rel=3e-6)


def test_limits_of_the_total_are_the_published_ones(study_a):
    """CHECKS_SECOND GI-06: the total as a weighted sum of all four mean squares."""
    part, operator, crossed, error, _ = study_a.interaction_anova
    n = P * O * R
    weights = (P / n, O / n, (P * O - P - O) / n, P * O * (R - 1) / n)
    rows = (part, operator, crossed, error)
    found = sd_interval([MeanSquare(w, row.mean_square, row.df) for w, row in zip(weights, rows, strict=True)])
    assert squared(found) == pytest.approx((24.488435, 166.222173), abs=6e-7)


def test_limits_of_the_ratio_are_the_published_ones(study_a):
    """CHECKS_SECOND GI-08: specimens over gauge."""
    ratio = study_a.part_ratio
    assert (ratio.low, ratio.high) == pytest.approx((1.691680, 105.608953), abs=6e-7)
    assert study_a.category_limits == (1, 14)


def test_satterthwaite_would_be_far_too_narrow(study_a):
    """CHECKS_SECOND 14, trap: with 12.8896 effective degrees of freedom the limits are 0.945776 and 4.705139."""
    df, variance = 12.8896, study_a.grr.variance
    narrow = df * variance / chi2.isf([0.025, 0.975], df)
    assert narrow == pytest.approx((0.945776, 4.705139), rel=1e-4)
    assert study_a.grr_sd.high**2 > 5 * narrow[1]


@pytest.fixture(scope="module")
def pivotal(study_a):
    """Draws of the generalised pivotal quantities of the four variances: a second witness, by simulation."""
    rng = np.random.default_rng(1406)
    part, operator, crossed, error, _ = study_a.interaction_anova
    p, o, c, e = (row.sum_of_squares / rng.chisquare(row.df, 3_000_000) for row in (part, operator, crossed, error))
    of_operator, of_crossed = np.maximum(0, o - c) / (P * R), np.maximum(0, c - e) / R
    gauge = np.maximum(0, (o + (P - 1) * c + P * (R - 1) * e) / (P * R))
    of_part = np.maximum(0, p - c) / (O * R)
    return {
        "repeatability_sd": e,
        "operator_sd": of_operator,
        "interaction_sd": of_crossed,
        "grr_sd": gauge,
        "part_sd": of_part,
        "share": gauge / (gauge + of_part),
    }


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("repeatability_sd", 0.3680, 0.7574),
        ("operator_sd", 0.0702, 25.74),
        ("interaction_sd", 0.3303, 1.789),
        ("grr_sd", 1.1865, 27.11),
        ("part_sd", 22.66, 161.60),
        ("share", 0.0116, 0.3622),  # GI-07
    ],
)
def test_pivotal_quantities_say_the_same(study_a, pivotal, name, low, high):
    """CHECKS_SECOND 14, column GPQ, within 1 %; the limits of the study are near them."""
    found = np.quantile(pivotal[name], [0.025, 0.975])
    assert found == pytest.approx((low, high), rel=0.01)
    if name != "share":
        assert squared(getattr(study_a, name)) == pytest.approx(found, rel=0.05)


def test_nested_components_and_their_limits():
    """CHECKS_SECOND NU-07: 20 days, 2 runs, 2 results (PAGE, vignette of package VCA): mean squares to components.

    The χ² limits of the error are exact and the same here. Of day and run the package has Wald's; modified large sample
    is not symmetric: its lower limits are as near to 0, and its upper ones further up.
    """
    day, run, error = 1506.145222 / 19, 606.928138 / 20, 651.360839 / 40
    of_error = sd_interval([MeanSquare(1.0, error, 40)])
    assert squared(of_error) == pytest.approx((10.9764, 26.6590), abs=1e-4)
    assert ((day - run) / 4, (run - error) / 2) == pytest.approx((12.231099, 7.031193), abs=1e-6)
    of_day = squared(between_sd_interval(MeanSquare(0.25, day, 19), MeanSquare(1.0, run, 20)))
    of_run = squared(between_sd_interval(MeanSquare(0.5, run, 20), MeanSquare(1.0, error, 40)))
    assert 0.0 < of_day[0] < 0.06 * 12.231099
    assert of_day[1] > 25.6818
    assert of_run[0] == 0.0
    assert of_run[1] > 17.0897
    # The total by modified large sample, near the package's Satterthwaite limits: here no part has few degrees.
    total = sd_interval([MeanSquare(0.25, day, 19), MeanSquare(0.25, run, 20), MeanSquare(0.5, error, 40)])
    assert squared(total) == pytest.approx((24.8957, 54.8935), rel=0.1)


def test_coverage_of_the_interval_of_the_bench_with_three_operators():
    """The failing case of issue 12.10: the interval of the bench's s covered 82 % by Satterthwaite."""
    rng = np.random.default_rng(9)
    covered = {"grr_sd": 0, "operator_sd": 0, "part_sd": 0, "part_ratio": 0}
    truth = {"grr_sd": math.hypot(0.7, 0.3, 0.5), "operator_sd": 0.7, "part_sd": 3.0, "part_ratio": 9 / 0.83}
    names = [f"{n}" for n in np.indices((8, 3, 2))[0].ravel()], [f"{n}" for n in np.indices((8, 3, 2))[1].ravel()]
    runs = 1200
    for _ in range(runs):
        cube = rng.normal(0, 3.0, (8, 1, 1)) + rng.normal(0, 0.7, (1, 3, 1)) + rng.normal(0, 0.3, (8, 3, 1))
        study = gauge_study(*names, (cube + rng.normal(0, 0.5, (8, 3, 2))).ravel())
        for name, value in truth.items():
            interval = getattr(study, name)
            covered[name] += interval.low <= value <= interval.high
    # Four standard errors of a coverage of 0.95 from 1200 studies are 0.025; a little above is on the safe side.
    assert all(0.925 <= count / runs <= 0.985 for count in covered.values()), covered


@pytest.mark.parametrize(("rigs", "n"), [(3, [3, 3, 3]), (3, [2, 3, 5]), (5, [2] * 5)])
def test_coverage_of_the_reproducibility_of_few_rigs(rigs, n):
    rng = np.random.default_rng(rigs * 10 + n[0])
    runs, inside = 2000, {"repeatability": 0, "between": 0, "reproducibility": 0}
    truth = {"repeatability": 1.0, "between": 1.5, "reproducibility": math.hypot(1.0, 1.5)}
    for _ in range(runs):
        found = precision({f"{lab}": rng.normal(rng.normal(0, 1.5), 1.0, count) for lab, count in enumerate(n)})
        for name, value in truth.items():
            interval = getattr(found, f"{name}_interval")
            inside[name] += interval.low <= value <= interval.high
    assert all(0.93 <= count / runs <= 0.985 for count in inside.values()), inside
