"""Gauge study and control chart against published worked numbers and independent programs."""

import numpy as np
import pandas as pd
import pytest
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from labtests.domain.studies.control_chart import WESTERN_ELECTRIC, Limits, chart, judge, limits_from
from labtests.domain.studies.gauge import gauge_study

# CHECKS 3.1, data set A: Houf and Burman 1988, °C/W, 10 parts x 3 operators x 3 trials (data PAGE).
DATA_A = """
37 38 37 41 41 40 41 42 41
42 41 43 42 42 42 43 42 43
30 31 31 31 31 31 29 30 28
42 43 42 43 43 43 42 42 42
28 30 29 29 30 29 31 29 29
42 42 43 45 45 45 44 46 45
25 26 27 28 28 30 29 27 27
40 40 40 43 42 42 43 43 41
25 25 25 27 29 28 26 26 26
35 34 34 35 35 34 35 34 35
"""


def study_of(cube, **options):
    parts, operators, _ = np.indices(cube.shape)
    return gauge_study(
        [f"part {n}" for n in parts.ravel()], [f"operator {n}" for n in operators.ravel()], cube.ravel(), **options
    )


@pytest.fixture(scope="module")
def study_a():
    return study_of(np.array(DATA_A.split(), dtype=float).reshape(10, 3, 3))


def test_data_set_a_analysis_of_variance(study_a):
    """CHECKS 3.1: table to 1e-6; F 162.27, 7.28, 5.27 in Montgomery's textbook (MEM)."""
    part, operator, crossed, error, total = study_a.interaction_anova
    assert study_a.mean == pytest.approx(35.8, abs=1e-12)
    assert [row.df for row in study_a.interaction_anova] == [9, 2, 18, 60, 89]
    squares = [row.sum_of_squares for row in study_a.interaction_anova]
    assert squares == pytest.approx([3935.955556, 39.266667, 48.511111, 30.666667, 4054.4], abs=1e-6)
    assert part.f == pytest.approx(12008 / 74, abs=1e-6)
    assert (operator.f, crossed.f) == pytest.approx((7.284929, 5.272947), abs=1e-6)
    assert (part.p, operator.p, crossed.p) == pytest.approx((2.292e-15, 0.00480961, 5.0601e-07), rel=1e-4)
    assert (error.f, total.f) == (None, None)


def test_data_set_a_components(study_a):
    """CHECKS 3.1: components to 1e-6; 48.29, 0.56, 0.73, 0.51 in Montgomery's textbook (MEM)."""
    assert study_a.repeatability.variance == pytest.approx(23 / 45, abs=1e-9)
    assert study_a.repeatability.sd == pytest.approx(0.7149204, abs=1e-6)
    assert study_a.operator.variance == pytest.approx(0.5646091, abs=1e-6)
    assert study_a.interaction.variance == pytest.approx(0.7279835, abs=1e-6)
    assert study_a.reproducibility.variance == pytest.approx(1.2925926, abs=1e-6)
    assert (study_a.grr.variance, study_a.grr.sd) == pytest.approx((1.8037037, 1.3430204), abs=1e-6)
    assert (study_a.part.variance, study_a.part.sd) == pytest.approx((48.2925926, 6.9492872), abs=1e-6)
    assert (study_a.total.variance, study_a.total.sd) == pytest.approx((50.0962963, 7.0778737), abs=1e-6)
    assert study_a.grr.contribution_percent == pytest.approx(3.6004732, abs=1e-6)
    assert study_a.grr.study_variation_percent == pytest.approx(18.9749128, abs=1e-6)


def test_data_set_a_categories_are_cut_off(study_a):
    """CHECKS 3.1 and trap 3: 7.2958648 truncates to 7."""
    assert study_a.categories_raw == pytest.approx(7.2958648, abs=1e-6)
    assert study_a.categories == 7


@pytest.mark.parametrize("alpha", [0.05, 0.25])
def test_data_set_a_is_never_pooled(study_a, alpha):
    """CHECKS 3.1: the interaction is significant at both customary levels."""
    cube = np.array(DATA_A.split(), dtype=float).reshape(10, 3, 3)
    assert not study_of(cube, alpha=alpha).is_pooled


def cube_with(shape, sums_of_squares):
    """Readings whose part, operator, interaction and error sums of squares are those given: orthogonal contrasts."""
    part, operator, trial = (np.arange(n, dtype=float) - (n - 1) / 2 for n in shape)
    ones = np.ones(shape)
    contrasts = [
        part[:, None, None] * ones,
        operator[None, :, None] * ones,
        part[:, None, None] * operator[None, :, None] * ones,
        trial[None, None, :] * ones,
    ]
    return 1.0 + sum(
        contrast * np.sqrt(square / np.sum(contrast**2))
        for contrast, square in zip(contrasts, sums_of_squares, strict=True)
    )


def test_published_study_without_interaction_is_pooled():
    """Flight times of paper helicopters, 3 x 3 x 3 (Cano, Moguerza and Redchuk 2012, chapter 5): PAGE for the sums of
    squares and every result, from the test file of the book's own open-source package; readings made to have them.

    Tolerances are what the four printed digits of the sums of squares leave.
    """
    study = study_of(cube_with((3, 3, 3), [1.2007, 0.0529, 0.0834, 0.3854]))
    part, operator, crossed, error, total = study.interaction_anova
    assert (part.f, operator.f, crossed.f) == pytest.approx((28.797, 1.270, 0.974), abs=0.02)
    assert (part.p, operator.p, crossed.p) == pytest.approx((0.00422, 0.37415, 0.44619), abs=5e-4)
    assert total.sum_of_squares == pytest.approx(1.7225, abs=2e-4)
    assert study.is_pooled
    part, operator, error, _ = study.anova
    assert error.df == 22
    assert (error.sum_of_squares, error.mean_square) == pytest.approx((0.4688, 0.0213), abs=5e-5)
    assert (part.f, operator.f) == pytest.approx((28.17, 1.24), abs=0.01)
    assert part.p == pytest.approx(8.56e-07, rel=0.01)
    names = ("grr", "repeatability", "reproducibility", "operator", "part", "total")
    components = [getattr(study, name) for name in names]
    assert [one.variance for one in components] == pytest.approx(
        [0.0219, 0.0213, 0.0006, 0.0006, 0.0643, 0.0862], abs=5.1e-5
    )
    assert [one.contribution_percent for one in components] == pytest.approx(
        [25.38, 24.71, 0.67, 0.67, 74.62, 100.0], abs=0.01
    )
    assert [one.study_variation_percent for one in components] == pytest.approx(
        [50.38, 49.71, 8.16, 8.16, 86.38, 100.0], abs=0.03
    )
    assert [one.sd for one in components] == pytest.approx(
        [0.14792656, 0.14597518, 0.02394813, 0.02394813, 0.25365123, 0.29363449], abs=8e-5
    )
    assert study.categories == 2


def test_published_table_with_two_trials():
    """Thickness, 10 parts x 3 operators x 2 trials: table in the help page of a statistics program (PAGE)."""
    study = study_of(cube_with((10, 3, 2), [2.05871, 0.04800, 0.10367, 0.03875]))
    part, operator, crossed, error, total = study.interaction_anova
    assert [row.df for row in (part, operator, crossed, error, total)] == [9, 2, 18, 30, 59]
    assert (part.f, operator.f, crossed.f) == pytest.approx((39.7178, 4.1672, 4.4588), rel=1e-3)
    assert operator.p == pytest.approx(0.033, abs=5e-4)
    assert not study.is_pooled


@pytest.mark.parametrize("seed", range(4))
def test_table_agrees_with_an_independent_program(seed):
    rng = np.random.default_rng(seed)
    cube = 40 + rng.normal(0, 4, (5, 1, 1)) + rng.normal(0, 1, (1, 4, 1)) + rng.normal(0, 1, (5, 4, 3))
    parts, operators, _ = np.indices(cube.shape)
    frame = pd.DataFrame({"y": cube.ravel(), "part": parts.ravel(), "operator": operators.ravel()})
    other = anova_lm(ols("y ~ C(part) * C(operator)", frame).fit())
    study = study_of(cube)
    assert [row.sum_of_squares for row in study.interaction_anova[:4]] == pytest.approx(list(other["sum_sq"]), rel=1e-9)
    assert study.interaction_p == pytest.approx(other["PR(>F)"].iloc[2], rel=1e-9)
    additive = anova_lm(ols("y ~ C(part) + C(operator)", frame).fit())
    pooled = study_of(cube, alpha=1e-12)
    assert pooled.is_pooled
    assert [row.f for row in pooled.anova[:2]] == pytest.approx(list(additive["F"])[:2], rel=1e-9)


def test_individuals_chart_of_flow_rates():
    """NIST/SEMATECH e-Handbook 6.3.2.2, 10 batches: 50.81, 1.8778, 55.8041, 45.8159 (data and results MEM)."""
    found = chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    assert found.limits.centre == pytest.approx(50.81, abs=1e-9)
    assert found.limits.mean_moving_range == pytest.approx(1.8778, abs=5e-5)
    assert (found.limits.upper, found.limits.lower) == pytest.approx((55.8041, 45.8159), abs=5e-4)
    assert found.is_in_control


def test_individuals_chart_of_hardness():
    """Montgomery and Runger, exercise 15-17 (section 15-4): sum 1061, moving ranges 56/19, limits 60.888 and 45.212, in
    control: PAGE. The readings themselves MEM; their sum and each moving range are those of the page."""
    hardness = [51, 52, 54, 55, 55, 51, 52, 50, 51, 56, 51, 57, 58, 50, 53, 52, 54, 50, 56, 53]
    assert np.abs(np.diff(hardness)).tolist() == [1, 2, 1, 0, 4, 1, 2, 1, 5, 5, 6, 1, 8, 3, 1, 2, 4, 6, 3]
    found = chart(hardness)
    assert found.limits.centre == pytest.approx(53.05, abs=1e-9)
    assert found.limits.mean_moving_range == pytest.approx(56 / 19)
    assert found.limits.sigma == pytest.approx(2.613, abs=5e-4)
    assert (found.limits.upper, found.limits.lower) == pytest.approx((60.888, 45.212), abs=1.5e-3)
    assert found.is_in_control


def test_limits_are_two_and_two_thirds_mean_moving_ranges_wide():
    """Centre ± 2.66 mean moving range: PAGE (a handbook on process improvement)."""
    limits = limits_from([0.0, 1.0] * 10)
    assert limits.upper - limits.centre == pytest.approx(2.66 * limits.mean_moving_range, rel=1e-3)


@pytest.mark.parametrize(("rules", "length"), [(WESTERN_ELECTRIC[:1], 370.4), (WESTERN_ELECTRIC, 91.75)])
def test_a_process_in_control_signals_as_rarely_as_published(rules, length):
    """Average run length 370.4 (DEF: 1 / P(|z| > 3)) and 91.75 for the four rules together (Champ and Woodall 1987,
    also in the NIST/SEMATECH e-Handbook; MEM). 3000 simulated runs with known limits, 6 %."""
    known = Limits(n=30, centre=0.0, mean_moving_range=1.128, sigma=1.0, lower=-3.0, upper=3.0, is_trial=False)
    rng = np.random.default_rng(1956)
    lengths = []
    for _ in range(3000):
        series = rng.standard_normal(int(11 * length))
        breaches = judge(series, known, rules=rules)
        lengths.append(breaches[0].index + 1 if breaches else len(series))
    assert np.mean(lengths) == pytest.approx(length, rel=0.06)
