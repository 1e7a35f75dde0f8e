"""Uncertainty budgets as they are kept: column by column, so that a million of them repeat no names."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from labtests.domain.propagation import BudgetTable

COLUMNS = ("source", "type", "u", "unit", "sensitivity", "contribution", "share")


def kept_budget(df: float, table: BudgetTable) -> dict[str, Any]:
    """Return a budget as JSON can hold it.

    Parameters
    ----------
    df : float
        Effective degrees of freedom; JSON has no infinity, so null stands for degrees of freedom without end.
    table : BudgetTable
        Its columns.

    Examples
    --------
    >>> from labtests.domain.propagation import Component
    >>> kept = kept_budget(math.inf, BudgetTable((Component("torque", "A", 0.1, "N·m"),), [11.0], [1.1], [1.0]))
    >>> kept["df"], kept["columns"]["source"]
    (None, ['torque'])
    """
    parts = table.components
    columns = (
        [part.source for part in parts],
        [part.type_ for part in parts],
        [part.u for part in parts],
        [part.unit for part in parts],
        table.sensitivities,
        table.contributions,
        table.shares,
    )
    return {"df": df if math.isfinite(df) else None, "columns": dict(zip(COLUMNS, columns, strict=True))}


def budget_rows(kept: Mapping[str, Any]) -> dict[str, Any]:
    """Return a kept budget as `df` and `rows`, each row by the names of its columns.

    Parameters
    ----------
    kept : mapping
        As `kept_budget` made it, or with its rows already.

    Examples
    --------
    >>> budget_rows({"df": 4.0, "columns": {"source": ["torque"], "u": [0.1]}})
    {'df': 4.0, 'rows': [{'source': 'torque', 'u': 0.1}]}
    """
    if "rows" in kept:
        return {"df": kept["df"], "rows": kept["rows"]}
    columns = kept["columns"]
    rows = [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
    return {"df": kept["df"], "rows": rows}
