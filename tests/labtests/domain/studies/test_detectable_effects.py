"""What a study that found nothing could have found: by simulation of the very tests, and at the edges."""

import numpy as np
import pytest

from labtests.domain.studies.detectable import component_sd, shift_of_one, slope, times_the_scatter
from labtests.domain.studies.interlab import cochran_critical, grubbs_critical, mandel_h_critical, mandel_k_critical
from labtests.domain.studies.linear_fit import fit_line

RUNS = 20_000
# Four standard errors of a share of 0.8 among 20,000.
NEAR = 0.0115


def test_a_shift_of_that_size_is_named_in_eight_of_ten_studies():
    rng = np.random.default_rng(3)
    p = 6
    for alpha, critical in ((0.05, mandel_h_critical(p, 0.05)), (0.05 / p, grubbs_critical(p, 0.05))):
        means = rng.normal(10.0, 0.4, (RUNS, p))
        means[:, 2] += shift_of_one(p, 0.4, alpha=alpha)
        h = (means[:, 2] - means.mean(axis=1)) / means.std(axis=1, ddof=1)
        assert np.mean(h > critical) == pytest.approx(0.8, abs=NEAR)


def test_a_scatter_of_that_size_is_named_in_eight_of_ten_studies():
    rng = np.random.default_rng(4)
    p, n = 5, 4
    df, others = n - 1, (p - 1) * (n - 1)
    for share in (cochran_critical(p, n, 0.05), mandel_k_critical(df, df + others, 0.05) ** 2 * df / (df + others)):
        readings = rng.normal(0.0, 0.2, (RUNS, p, n))
        readings[:, 0] *= times_the_scatter(df, others, share=share)
        variances = readings.var(axis=2, ddof=1)
        assert np.mean(variances[:, 0] / variances.sum(axis=1) > share) == pytest.approx(0.8, abs=NEAR)


def test_a_component_of_that_size_is_shown_in_eight_of_ten_studies():
    rng = np.random.default_rng(5)
    groups, times, error = 4, 12, 0.7
    size = component_sd((groups - 1, groups * (times - 1)), error, times, alpha=0.05)
    cube = rng.normal(0, size, (RUNS, groups, 1)) + rng.normal(0, error, (RUNS, groups, times))
    between = times * cube.mean(axis=2).var(axis=1, ddof=1)
    within = cube.var(axis=2, ddof=1).mean(axis=1)
    assert np.mean(between / within > 2.8165) == pytest.approx(0.8, abs=NEAR)  # F(3, 44) at 5 %


def test_a_slope_of_that_size_is_shown_in_eight_of_ten_series():
    rng = np.random.default_rng(6)
    km = np.array([0.0, 150.0, 300.0, 450.0, 600.0])
    se = 0.5 / np.sqrt(np.sum((km - km.mean()) ** 2))
    lines = slope(3, se, level=0.95) * km + rng.normal(0, 0.5, (3000, 5))
    assert np.mean([fit_line(km, line).is_slope_shown for line in lines]) == pytest.approx(0.8, abs=0.03)


def test_three_rigs_can_hardly_name_one_of_them():
    assert shift_of_one(3, 1.0, alpha=0.05 / 3) > 50.0
    assert shift_of_one(12, 1.0, alpha=0.05 / 12) < 6.0


def test_without_scatter_nothing_is_too_small():
    assert shift_of_one(5, 0.0, alpha=0.05) == 0.0
    assert component_sd((2, 6), 0.0, 3, alpha=0.05) == 0.0
    assert slope(4, 0.0, level=0.95) == 0.0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: shift_of_one(2, 1.0, alpha=0.05), "p must be ≥ 3, got 2"),
        (lambda: shift_of_one(4, 1.0, alpha=1.5), "alpha must be > 0 and < 1, got 1.5"),
        (lambda: times_the_scatter(0, 5, share=0.5), "degrees of freedom must be > 0, got 0 and 5"),
        (lambda: times_the_scatter(2, 5, share=1.0), "share must be > 0 and < 1, got 1.0"),
        (lambda: component_sd((0, 5), 1.0, 3, alpha=0.05), r"df and times must be ≥ 1, got \(0, 5\) and 3"),
        (lambda: slope(0, 1.0, level=0.95), "df must be ≥ 1, got 0"),
        (lambda: slope(3, 1.0, level=0.95, power=0.0), "power must be > 0 and < 1, got 0.0"),
    ],
)
def test_what_is_not_defined_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
