"""Uncertainty of a test's scores and of a shoe, against hand-worked numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.evaluation import Evaluation, Repeat, summarise
from labtests.domain.scores.scoring import S1, estimated_work_j, score
from labtests.domain.uncertainty.propagation import (
    BudgetTable,
    Component,
    Effect,
    combined_covariance,
    rectangular_u,
)
from labtests.domain.uncertainty.scatter import Scatter, choose_scatter, pool_repeats, scatter_of_repeats
from labtests.domain.uncertainty.uncertainty import Calibration, UncertaintySources, uncertainties_of_tests
from tests.reference.one_output import effective_df
from tests.reference.one_test import uncertainty_of_test

KNOWN = [
    Calibration("torque", 0.02, 0.01),
    Calibration("angle", 0.05, 0.1),
    Calibration("displacement", 0.01, 0.01),
    Calibration("force", 0.5, 0.1),
    Calibration("temperature", 0.1, 0.1),
]


def evaluation_of(rows):
    repeats = tuple(
        Repeat(number, torque_15_nm=t, deflection_mm=d, work_j=w) for number, (t, d, w) in enumerate(rows, start=1)
    )
    columns = [[row[index] for row in rows] for index in range(3)]
    return Evaluation(repeats, *(summarise(column) for column in columns), None, False, ())


ROWS = [(5.10, 5.90, 1.50), (5.14, 5.96, 1.52), (5.12, 5.93, 1.51)]


def test_an_effect_adds_its_row_and_its_variance():
    evaluation = evaluation_of(ROWS)
    scatter = choose_scatter(evaluation, None)
    effect = Effect(Component("something else", "B", 0.03, "K"), (0.5, 0.0, 0.0))
    without = uncertainty_of_test(evaluation, scatter, KNOWN, model=S1)
    with_it = uncertainty_of_test(evaluation, scatter, KNOWN, model=S1, effects=[effect])
    assert with_it is not None
    assert without is not None
    added = 100 / 9.038783 * 0.5 * 0.03
    assert with_it.scores["midfoot"].u == pytest.approx(math.hypot(without.scores["midfoot"].u, added), rel=1e-6)
    assert with_it.scores["cushioning"].u == without.scores["cushioning"].u
    assert [row.source for row in with_it.scores["midfoot"].budget][-1] == "something else"


def test_many_tests_at_once_are_as_each_by_itself():
    two, three = evaluation_of(ROWS[:2]), evaluation_of(ROWS)
    pooled, day = Scatter(0.01, 0.02, 0.001, 0.004, 40.0, "history"), Scatter(0.02, 0.03, 0.002, 0.0, 9.0, "day")
    warmth = Effect(Component("temperature", "B", 0.4, "K"), (-0.07, 0.09, 0.02))
    tests = [
        UncertaintySources(two, pooled, tuple(KNOWN), (warmth,), (day,)),
        UncertaintySources(three, scatter_of_repeats(three.repeats), tuple(KNOWN)),
        UncertaintySources(three, None, tuple(KNOWN)),
        UncertaintySources(two, scatter_of_repeats(two.repeats), tuple(KNOWN), (warmth,), (day,)),
        UncertaintySources(two, pooled, tuple(KNOWN[:2])),
        UncertaintySources(three, pooled, tuple(KNOWN), (), (day, pooled)),
    ]
    together = uncertainties_of_tests(tests, model=S1)
    assert [found is None for found in together] == [False, False, True, False, True, False]
    for test, found in zip(tests, together, strict=True):
        (alone,) = uncertainties_of_tests([test], model=S1)
        if found is None or alone is None:
            assert found is alone
            continue
        assert (found.repeats_df, found.setup_df) == (alone.repeats_df, alone.setup_df)
        assert found.correlation_rearfoot_cushioning == pytest.approx(alone.correlation_rearfoot_cushioning, abs=1e-14)
        for name, score_found in found.scores.items():
            expected = alone.scores[name]
            for part in ("u", "type_a", "setup", "type_b", "df"):
                assert getattr(score_found, part) == pytest.approx(getattr(expected, part), rel=1e-13)
            assert [row.source for row in score_found.budget] == [row.source for row in expected.budget]


def test_stability_by_hand():
    evaluation = evaluation_of(ROWS)
    result = uncertainty_of_test(evaluation, choose_scatter(evaluation, None), KNOWN, model=S1)
    # Torque and deflection of the repeats rise together: the score scatters less than if they were independent.
    repeats = [0.54 * 100 * t / 9.038783 - 0.46 * 100 * d / 7.0 for t, d, _ in ROWS]
    torque_b2 = 0.02**2 + 0.01**2 / 12 + (5.12 / 15) ** 2 * (0.05**2 + 0.1**2 / 12)
    deflection_b2 = 0.01**2 + 0.01**2 / 12 + (5.93 / 444.82216152605) ** 2 * (0.5**2 + 0.1**2 / 12)
    by_torque, by_deflection = 0.54 * 100 / 9.038783, 0.46 * 100 / 7.0
    type_a = np.std(repeats, ddof=1) / math.sqrt(3)
    type_b = math.sqrt(by_torque**2 * torque_b2 + by_deflection**2 * deflection_b2)
    stability = result.scores["stability"]
    assert stability.type_a == pytest.approx(type_a)
    assert stability.type_b == pytest.approx(type_b)
    assert stability.u == pytest.approx(math.hypot(type_a, type_b))
    df = stability.u**4 / (type_a**4 / 2)
    assert stability.df == pytest.approx(df)
    assert math.fsum(row.share for row in stability.budget) == pytest.approx(1.0)
    assert {row.type_ for row in stability.budget} == {"A", "B"}


def test_work_known_only_from_deflection_moves_wholly_with_it():
    rows = [(t, d, estimated_work_j(d)) for t, d, _ in ROWS]
    evaluation = evaluation_of(rows)
    result = uncertainty_of_test(evaluation, scatter_of_repeats(evaluation.repeats), KNOWN, model=S1)
    # A deeper heel scores lower on rearfoot and higher on cushioning.
    assert result.correlation_rearfoot_cushioning == pytest.approx(-1.0)


def test_sensitivities_agree_with_a_numerical_derivative_of_the_whole_chain():
    # The work under a straight curve of slope F/d, the force read too high by a share e: the curve ends at d/(1+e).
    force, deflection, e = 444.82216152605, 7.0, 1e-6
    ends_at = deflection / (1 + e)
    work = 0.5 * force * deflection / 1000
    moved = 0.5 * force * ends_at / 1000
    derivative = (moved - work) / (force * e)
    assert abs(derivative) == pytest.approx(deflection / 1000 - work / force, rel=1e-5)


def test_fewer_than_three_repeats_take_the_pooled_history():
    two = evaluation_of(ROWS[:2])
    pooled = Scatter(0.01, 0.02, 0.001, 0.004, 40.0, "pooled history of the rig")
    assert choose_scatter(two, pooled) is pooled
    assert choose_scatter(evaluation_of(ROWS), pooled).origin == "repeats"
    assert choose_scatter(two, None) is None


def test_pooling_weighs_by_degrees_of_freedom_and_counts_no_single_or_incomplete_repeat():
    # Variances of torque 2 with 1 degree of freedom and 5 with 2; deflection goes against work in the second test.
    test = np.array([1, 1, 2, 2, 2, 3, 4, 4])
    torque = [4.0, 6.0, 5.0 - np.sqrt(5.0), 5.0, 5.0 + np.sqrt(5.0), 9.0, 1.0, np.nan]
    readings = np.column_stack([torque, [1, 1, 1, 2, 3, 9, 1, 5], [1, 1, 3, 2, 1, 9, 1, 5]])
    pooled, tests = pool_repeats(test, readings)
    assert (pooled.df, tests) == (3.0, 2)
    assert pooled.torque_nm2 == pytest.approx((2.0 + 2 * 5.0) / 3.0)
    assert (pooled.deflection_mm2, pooled.work_j2, pooled.deflection_work) == pytest.approx((2 / 3, 2 / 3, -2 / 3))
    assert pool_repeats(test[:1], readings[:1]) == (None, 0)
    assert pool_repeats(test[:0], readings[:0]) == (None, 0)


def test_incomplete_repeats_have_no_scatter():
    assert scatter_of_repeats([Repeat(1, torque_15_nm=1.0), Repeat(2, torque_15_nm=2.0)]) is None


@pytest.mark.parametrize("missing", ["torque", "angle", "displacement", "force"])
def test_uncertainty_with_a_calibration_missing_is_unknown(missing):
    evaluation = evaluation_of(ROWS)
    known = [calibration for calibration in KNOWN if calibration.quantity != missing]
    assert uncertainty_of_test(evaluation, scatter_of_repeats(evaluation.repeats), known, model=S1) is None


def test_uncertainty_without_scatter_or_reading_is_unknown():
    evaluation = evaluation_of(ROWS)
    assert uncertainty_of_test(evaluation, None, KNOWN, model=S1) is None
    nothing = Evaluation((), None, None, None, None, False, ())
    assert uncertainty_of_test(nothing, Scatter(1, 1, 1, 0, 9, "repeats"), KNOWN, model=S1) is None


def test_perfect_rig_and_equal_repeats_leave_no_uncertainty():
    evaluation = evaluation_of([(5.25, 5.75, 1.5)] * 3)
    perfect = [Calibration(item.quantity, 0.0, 0.0) for item in KNOWN]
    result = uncertainty_of_test(evaluation, scatter_of_repeats(evaluation.repeats), perfect, model=S1)
    assert result.scores["stability"].u == 0.0
    assert result.correlation_rearfoot_cushioning == 0.0


@given(st.lists(st.tuples(st.floats(3, 6), st.floats(5, 9), st.floats(1, 2)), min_size=3, max_size=8))
def test_type_a_is_the_scatter_of_the_scores_of_the_repeats(rows):
    evaluation = evaluation_of(rows)
    result = uncertainty_of_test(evaluation, scatter_of_repeats(evaluation.repeats), KNOWN, model=S1)
    for name, found in result.scores.items():
        own = [float(getattr(score(*row, model=S1), name)) for row in rows]
        assert found.type_a == pytest.approx(np.std(own, ddof=1) / math.sqrt(len(rows)), abs=1e-9)


def test_day_and_set_up_add_to_u_and_have_rows_of_their_own():
    evaluation = evaluation_of(ROWS)
    scatter = scatter_of_repeats(evaluation.repeats)
    day = Scatter(0.01, 0.02, 0.001, 0.0, 7.0, "day and set-up", torque_deflection=0.005, link="check:rig-9")
    plain = uncertainty_of_test(evaluation, scatter, KNOWN, model=S1)
    found = uncertainty_of_test(evaluation, scatter, KNOWN, model=S1, setups=[day])
    by_torque, by_deflection = 0.54 * 100 / 9.038783, -0.46 * 100 / 7.0
    variance = by_torque**2 * 0.01 + by_deflection**2 * 0.02 + 2 * by_torque * by_deflection * 0.005
    stability = found.scores["stability"]
    assert stability.setup == pytest.approx(math.sqrt(variance))
    assert stability.u**2 == pytest.approx(plain.scores["stability"].u ** 2 + variance)
    assert (plain.setup_df, found.setup_df, found.repeats_df) == (math.inf, 7.0, 2.0)
    rows = {row.source: row for row in stability.budget}
    assert (rows["day and set-up"].df, rows["day and set-up"].link) == (7.0, "check:rig-9")
    assert rows["day and set-up"].contribution == pytest.approx(math.sqrt(variance))


@given(st.lists(st.tuples(st.floats(3, 6), st.floats(5, 9), st.floats(1, 2)), min_size=3, max_size=8))
def test_u_is_the_root_of_its_two_parts(rows):
    evaluation = evaluation_of(rows)
    result = uncertainty_of_test(evaluation, scatter_of_repeats(evaluation.repeats), KNOWN, model=S1)
    for part in result.scores.values():
        assert part.u == pytest.approx(math.sqrt(part.type_a**2 + part.setup**2 + part.type_b**2))
    assert -1.0 - 1e-9 <= result.correlation_rearfoot_cushioning <= 1.0 + 1e-9


@given(st.floats(0.001, 0.2))
def test_coarser_resolution_never_lowers_u(more):
    evaluation = evaluation_of(ROWS)
    coarse = [Calibration(item.quantity, item.standard_uncertainty, item.resolution + more) for item in KNOWN]
    scatter = scatter_of_repeats(evaluation.repeats)
    plain = uncertainty_of_test(evaluation, scatter, KNOWN, model=S1).scores["stability"].u
    assert uncertainty_of_test(evaluation, scatter, coarse, model=S1).scores["stability"].u > plain


def test_simulated_errors_spread_the_score_as_calculated():
    rng = np.random.default_rng(7)
    evaluation = evaluation_of(ROWS)
    result = uncertainty_of_test(evaluation, scatter_of_repeats(evaluation.repeats), KNOWN, model=S1)
    n = 200_000
    torque_u = math.sqrt(0.02**2 + 0.01**2 / 12 + (5.12 / 15) ** 2 * (0.05**2 + 0.1**2 / 12))
    deflection_u = math.sqrt(0.01**2 + 0.01**2 / 12 + (5.93 / 444.82216152605) ** 2 * (0.5**2 + 0.1**2 / 12))
    means = rng.multivariate_normal([5.12, 5.93], np.cov(np.array(ROWS)[:, :2].T) / 3, n)
    torque, deflection = rng.normal(0.0, torque_u, n), rng.normal(0.0, deflection_u, n)
    simulated = score(means[:, 0] + torque, means[:, 1] + deflection, 1.5, model=S1).stability
    assert simulated.std() == pytest.approx(result.scores["stability"].u, rel=0.01)


def test_propagation_refuses_what_does_not_fit():
    with pytest.raises(ValueError, match="must fit together"):
        combined_covariance(np.ones((1, 2)), np.eye(3))
    with pytest.raises(ValueError, match="must fit together"):
        combined_covariance(np.ones((1, 2)), np.ones((2, 3)))
    with pytest.raises(ValueError, match="resolution must be"):
        rectangular_u(-0.1)


def test_budget_of_nothing_shares_nothing():
    (row,) = BudgetTable([Component("a", "B", 0.0, "mm")], [1.0])
    assert row.share == 0.0


def test_components_that_are_known_have_endless_degrees_of_freedom():
    assert effective_df([Component("a", "B", 1.0, "mm")], [1.0]) == math.inf


def test_repeats_equal_but_for_rounding_leave_unlimited_degrees_of_freedom():
    known = Component("calibration", "B", 0.02, "mm")
    rounding = Component("repeats", "A", 1e-15, "mm", df=2.0)
    assert effective_df([known, rounding], [1.0, 1.0]) == math.inf
    assert effective_df([known, Component("repeats", "A", 0.02, "mm", df=2.0)], [1.0, 1.0]) == pytest.approx(8.0)
