"""Gauge study: balance, pooling, clipping, categories (published values are in tests/external)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.studies.gauge import gauge_study


def columns(cube):
    """Long columns of a (parts, operators, trials) array."""
    parts, operators, _ = np.indices(cube.shape)
    names = [f"p{n}" for n in parts.ravel()], [f"o{n}" for n in operators.ravel()]
    return *names, cube.ravel().tolist()


def random_cube(seed, *, shape=(6, 3, 3), part=3.0, operator=0.5, crossed=0.0, error=0.3):
    rng = np.random.default_rng(seed)
    cube = 50 + rng.normal(0, part, (shape[0], 1, 1)) + rng.normal(0, operator, (1, shape[1], 1))
    return cube + rng.normal(0, crossed, (*shape[:2], 1)) + rng.normal(0, error, shape)


@given(st.integers(0, 999), st.sampled_from([0.001, 25.4]), st.sampled_from([0.0, -40.0]))
def test_another_unit_scales_variances_and_leaves_shares(seed, factor, shift):
    cube = random_cube(seed)
    one, other = gauge_study(*columns(cube)), gauge_study(*columns(factor * (cube + shift)))
    assert other.grr.variance == pytest.approx(factor**2 * one.grr.variance, rel=1e-6)
    assert other.grr.contribution_percent == pytest.approx(one.grr.contribution_percent, rel=1e-6)
    assert other.categories_raw == pytest.approx(one.categories_raw, rel=1e-6)
    assert other.is_pooled == one.is_pooled


@given(st.randoms(use_true_random=False))
def test_the_order_of_the_rows_is_no_matter(random):
    rows = list(zip(*columns(random_cube(1)), strict=True))
    shuffled = random.sample(rows, len(rows))
    one = gauge_study(*map(list, zip(*rows, strict=True)))
    other = gauge_study(*map(list, zip(*shuffled, strict=True)))
    assert other.part.variance == pytest.approx(one.part.variance, rel=1e-9)
    assert other.repeatability.variance == pytest.approx(one.repeatability.variance, rel=1e-9)


@given(st.integers(0, 999), st.sampled_from([0.0, 2.0]))
def test_components_add_up_and_none_is_below_zero(seed, crossed):
    study = gauge_study(*columns(random_cube(seed, crossed=crossed)))
    crossed_variance = study.interaction.variance if study.interaction else 0.0
    assert study.reproducibility.variance == pytest.approx(study.operator.variance + crossed_variance)
    assert study.grr.variance == pytest.approx(study.repeatability.variance + study.reproducibility.variance)
    assert study.total.variance == pytest.approx(study.grr.variance + study.part.variance)
    assert study.grr.contribution_percent + study.part.contribution_percent == pytest.approx(100.0)
    for component in (study.repeatability, study.operator, study.reproducibility, study.grr, study.part, study.total):
        assert component.variance >= 0.0
        assert component.sd**2 == pytest.approx(component.variance)
    assert study.repeatability_sd.low <= study.repeatability.sd <= study.repeatability_sd.high
    assert study.grr_sd.low <= study.grr.sd <= study.grr_sd.high


@given(st.integers(0, 999))
def test_sums_of_squares_and_degrees_of_freedom_add_up_to_the_total(seed):
    study = gauge_study(*columns(random_cube(seed, crossed=1.0)))
    for table in (study.interaction_anova, study.anova):
        assert sum(row.sum_of_squares for row in table[:-1]) == pytest.approx(table[-1].sum_of_squares)
        assert sum(row.df for row in table[:-1]) == table[-1].df == study.n - 1


def test_pooling_follows_the_stated_alpha():
    cube = random_cube(4, crossed=0.12)
    p = gauge_study(*columns(cube)).interaction_p
    kept = gauge_study(*columns(cube), alpha=min(0.99, p * 1.01))
    pooled = gauge_study(*columns(cube), alpha=p * 0.99)
    assert (kept.is_pooled, pooled.is_pooled) == (False, True)
    assert kept.interaction is not None
    assert pooled.interaction is None
    assert [row.source for row in pooled.anova] == ["part", "operator", "repeatability", "total"]
    assert pooled.interaction_anova == kept.anova


def test_a_negative_component_counts_as_zero_and_its_raw_value_is_kept():
    study = gauge_study(*columns(random_cube(3, operator=0.0)))
    assert study.operator.raw < 0.0
    assert study.operator.variance == 0.0
    assert study.reproducibility.raw == study.operator.raw
    # Three operators that seem not to differ may differ all the same, which the interval leaves open.
    assert study.operator_sd.low == 0.0
    assert study.operator_sd.high > study.operator.sd
    assert study.grr_sd.high >= study.repeatability_sd.high
    assert study.grr_sd.low <= study.grr.sd


def test_parts_that_do_not_differ_give_no_categories():
    cube = random_cube(3, part=0.0)
    cube -= cube.mean(axis=(1, 2), keepdims=True)
    study = gauge_study(*columns(cube))
    assert study.part.variance == 0.0
    assert study.categories == 0
    assert study.verdict.startswith("not good enough")


def test_a_gauge_without_any_variation_has_no_number_of_categories():
    cube = np.broadcast_to(np.array([0.1, 0.2, 0.7])[:, None, None], (3, 2, 3))
    study = gauge_study(*columns(cube))
    assert study.grr.variance == 0.0
    assert study.categories is None
    assert study.categories_raw is None
    assert study.is_pooled
    assert study.interaction_p is None
    assert study.anova[0].f is None
    assert study.verdict.startswith("good")


def test_an_interaction_with_no_error_to_test_it_against_is_kept():
    cells = np.array([[1.0, 2.0], [5.0, 3.0], [9.0, 8.0]])
    study = gauge_study(*columns(np.repeat(cells[:, :, None], 2, axis=2)))
    assert study.interaction_p is None
    assert not study.is_pooled
    assert study.interaction.variance > 0.0
    assert study.repeatability.variance == 0.0


def test_categories_are_cut_off_and_not_rounded():
    study = gauge_study(*columns(random_cube(1)))
    assert study.categories == int(study.categories_raw)
    assert study.categories_raw == pytest.approx(1.41 * study.part.sd / study.grr.sd)
    assert study.n == 54


@pytest.mark.parametrize(
    ("error", "words"), [(0.02, "good"), (0.5, "usable with care"), (0.98, "doubtful: fewer than 5"), (3.0, "not good")]
)
def test_the_verdict_goes_by_share_and_categories(error, words):
    cube = random_cube(2, shape=(10, 3, 3), operator=0.0, error=error)
    assert gauge_study(*columns(cube)).verdict.startswith(words)


def without(cube, row):
    parts, operators, readings = columns(cube)
    del parts[row], operators[row], readings[row]
    return parts, operators, readings


def test_an_unbalanced_study_names_the_cell():
    words = "part p1 by operator o2 must have 3 readings, got 2"
    with pytest.raises(ValueError, match=words):
        gauge_study(*without(random_cube(1), 15))


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        ((1, 3, 3), "parts must be ≥ 2, got 1"),
        ((3, 1, 3), "operators must be ≥ 2, got 1"),
        ((3, 3, 1), "trials of each part by each operator must be ≥ 2, got 1"),
    ],
)
def test_a_study_too_small_is_refused(shape, words):
    with pytest.raises(ValueError, match=words):
        gauge_study(*columns(random_cube(1, shape=shape)))


def test_columns_of_different_length_are_refused():
    with pytest.raises(ValueError, match="must be equally many, got 1, 2 and 2"):
        gauge_study(["a"], ["x", "y"], [1.0, 2.0])


def test_readings_all_equal_are_refused():
    with pytest.raises(ValueError, match=r"readings must not all be equal, got 7.0 8 times"):
        gauge_study(*columns(np.full((2, 2, 2), 7.0)))


def test_an_alpha_outside_0_to_1_is_refused():
    with pytest.raises(ValueError, match="alpha must be > 0 and < 1, got 5"):
        gauge_study(*columns(random_cube(1)), alpha=5)


@pytest.mark.parametrize("readings", [[1.0, 1.0 + 2e-16] * 4, [0.0, 1e-200] * 4])
def test_readings_equal_but_for_rounding_are_refused(readings):
    with pytest.raises(ValueError, match="equal but for rounding"):
        gauge_study(list("aaaabbbb"), list("xxyyxxyy"), readings)
