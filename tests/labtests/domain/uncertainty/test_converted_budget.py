"""Budgets under another model: those that the readings themselves would give."""

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.evaluation import Evaluation, Repeat, Summary
from labtests.domain.scores.scoring import S1
from labtests.domain.uncertainty.converted_budget import Budget, convert_budgets
from labtests.domain.uncertainty.propagation import BudgetRow
from labtests.domain.uncertainty.scatter import scatter_of_repeats
from labtests.domain.uncertainty.uncertainty import Calibration
from tests.reference.one_test import uncertainty_of_test

CALIBRATIONS = [Calibration(name, 0.02, 0.01) for name in ("torque", "displacement", "angle", "force")]


def budgets_by(model):
    repeats = tuple(Repeat(n, 5.1 + n / 50, 0.0, 5.9 - n / 70, 0.0, 1.5 + n / 90) for n in (1, 2, 3, 4))
    means = Summary(4, 5.15, 0.02), Summary(4, 5.86, 0.02), Summary(4, 1.53, 0.01)
    evaluation = Evaluation(repeats, *means, None, False, ())
    found = uncertainty_of_test(evaluation, scatter_of_repeats(repeats), CALIBRATIONS, model=model)
    return {name: Budget(known.df, tuple(known.budget)) for name, known in found.scores.items()}


@given(st.floats(4.0, 20.0), st.floats(-1.0, 6.0), st.floats(1.5, 4.0), st.floats(0.01, 0.99))
def test_conversion_is_what_the_readings_would_give(torque, deflection, work, weight):
    model = dataclasses.replace(
        S1,
        version="S2",
        torque_100_nm=torque,
        deflection_100_mm=deflection,
        work_100_j=work,
        weight_midfoot=weight,
        weight_rearfoot=1.0 - weight,
    )
    found, wanted = convert_budgets(budgets_by(S1), old=S1, new=model), budgets_by(model)
    assert found.keys() == wanted.keys()
    for name, budget in wanted.items():
        assert found[name].df == pytest.approx(budget.df, rel=1e-9)
        rows = {row.source: row for row in found[name].rows}
        assert rows.keys() == {row.source for row in budget.rows}
        for row in budget.rows:
            for field in ("u", "sensitivity", "contribution", "share"):
                assert getattr(rows[row.source], field) == pytest.approx(getattr(row, field), rel=1e-9, abs=1e-12)


def test_same_model_changes_nothing():
    budgets = budgets_by(S1)
    found = convert_budgets(budgets, old=S1, new=S1)
    assert found["midfoot"] == budgets["midfoot"]
    assert found["stability"].df == pytest.approx(budgets["stability"].df)


def test_weight_of_nothing_leaves_its_rows_out():
    model = dataclasses.replace(S1, weight_midfoot=1.0, weight_rearfoot=0.0)
    found = convert_budgets(budgets_by(S1), old=S1, new=model)["stability"]
    assert {row.unit for row in found.rows} == {"points", "N·m", "°"}


def test_known_components_alone_have_no_end_of_degrees_of_freedom():
    row = BudgetRow("calibration", "B", 0.1, "N·m", 11.0, 1.1, 1.0)
    budgets = {name: Budget(math.inf, (row,)) for name in ("midfoot", "rearfoot")}
    assert convert_budgets(budgets, old=S1, new=S1)["stability"].df == math.inf


def test_nothing_known_converts_to_nothing():
    assert convert_budgets({}, old=S1, new=S1) == {}


def test_what_acts_on_both_is_one_row_of_stability():
    rows = {"midfoot": -1.2, "rearfoot": -2.0}
    budgets = {
        name: Budget(math.inf, (BudgetRow("midsole temperature", "B", 0.5, "K", slope, abs(slope) / 2, 1.0),))
        for name, slope in rows.items()
    }
    found = convert_budgets(budgets, old=S1, new=S1)["stability"].rows
    assert [(row.sensitivity, row.share) for row in found] == [
        (pytest.approx(-1.2 * S1.weight_midfoot - 2.0 * S1.weight_rearfoot), 1.0)
    ]


def test_no_uncertainty_has_no_shares():
    budgets = {
        name: Budget(math.inf, (BudgetRow(f"{name} calibration", "B", 0.0, "N·m", 11.0, 0.0, 0.0),))
        for name in ("midfoot", "rearfoot")
    }
    assert [row.share for row in convert_budgets(budgets, old=S1, new=S1)["stability"].rows] == [0.0, 0.0]
