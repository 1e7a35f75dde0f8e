"""Budgets read back as they were worked out."""

from __future__ import annotations

import json
import math

import pytest

from labtests.domain.uncertainty.propagation import Budget, BudgetTable, Component
from labtests.domain.uncertainty.stored_budgets import read_budgets, stored_budgets

PARTS = (
    Component("torque, repeats", "A", 0.03, "N·m", 2.0),
    Component("torque, calibration", "B", 0.04, "N·m"),
    Component("force, calibration", "B", 0.5, "N"),
)
TABLES = {
    "midfoot": (3.5, BudgetTable(PARTS, [10.0, -10.0, 0.0])),
    "rearfoot": (math.inf, BudgetTable(PARTS, [0, 0, 2])),
}
BUDGETS = {name: Budget(df, tuple(table)) for name, (df, table) in TABLES.items()}


def test_rows_leave_out_what_is_not_felt_and_share_the_variance():
    first, second = BUDGETS["midfoot"].rows
    assert (first.source, first.contribution, second.contribution) == ("torque, repeats", 0.3, 0.4)
    assert (first.share, second.share) == pytest.approx((0.36, 0.64))


def test_stored_budgets_read_back_through_json():
    assert read_budgets(json.loads(json.dumps(stored_budgets(TABLES), allow_nan=False))) == BUDGETS


def test_nothing_kept_is_no_budget():
    assert read_budgets({}) == {}


def test_tables_of_other_sources_are_refused():
    with pytest.raises(ValueError, match="same components"):
        stored_budgets(TABLES | {"cushioning": (1.0, BudgetTable(PARTS[:1], [1.0]))})


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_numbers_that_json_cannot_hold_are_refused(bad):
    with pytest.raises(ValueError, match="finite"):
        stored_budgets({"midfoot": (1.0, BudgetTable(PARTS, [bad, 1.0, 1.0]))})
