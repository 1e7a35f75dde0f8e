"""Uncertainty budgets as they are stored: what they follow from, each number once, to be small for a million tests."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from labtests.domain.uncertainty.propagation import Budget, BudgetTable, Component


def stored_budgets(outputs: Mapping[str, tuple[float, BudgetTable]]) -> dict[str, Any]:
    """Return the budgets of a test as JSON can hold them.

    Parameters
    ----------
    outputs : mapping by score
        Effective degrees of freedom and table. JSON has no infinity: null means unlimited degrees of freedom.

    Raises
    ------
    ValueError
        Where the tables are not all of the same components, or a number is not finite.

    Examples
    --------
    >>> parts = (Component("torque", "A", 0.1, "N·m"),)
    >>> stored = stored_budgets({"midfoot": (math.inf, BudgetTable(parts, [11.0]))})
    >>> stored["sources"]["u"], stored["scores"]
    ([0.1], {'midfoot': {'df': None, 'sensitivities': [11.0]}})
    """
    components = next(iter(outputs.values()))[1].components
    if any(table.components is not components for _, table in outputs.values()):
        raise ValueError("budgets that are stored together must be of the same components")
    us = [part.u for part in components]
    if not math.isfinite(sum(us) + sum(sum(table.sensitivities) for _, table in outputs.values())):
        raise ValueError("budgets must be of finite numbers")
    sources: dict[str, list[Any]] = {
        "source": [part.source for part in components],
        "type": [part.type_ for part in components],
        "u": us,
        "unit": [part.unit for part in components],
        "df": [_stored_df(part.df) for part in components],
    }
    if any(part.link for part in components):
        sources["link"] = [part.link for part in components]
    if any(part.calibration is not None for part in components):
        sources["calibration"] = [part.calibration for part in components]
    return {
        "sources": sources,
        "scores": {
            name: {"df": _stored_df(df), "sensitivities": table.sensitivities} for name, (df, table) in outputs.items()
        },
    }


def read_budgets(stored: Mapping[str, Any]) -> dict[str, Budget]:
    """Return stored budgets by score, with contributions and shares worked out.

    Parameters
    ----------
    stored : mapping
        As `stored_budgets` made it; empty where the uncertainty is not known.

    Examples
    --------
    >>> parts = (Component("torque", "A", 0.1, "N·m"),)
    >>> read_budgets(stored_budgets({"midfoot": (4.0, BudgetTable(parts, [11.0]))}))["midfoot"].rows[0].share
    1.0
    """
    if not stored:
        return {}
    sources = stored["sources"]
    columns = [sources[name] for name in ("source", "type", "u", "unit")]
    # Tests from before calibrations were linked have no numbers of them.
    numbers = sources.get("calibration", [None] * len(columns[0]))
    # Nor have tests from before their own degrees of freedom were stored with the sources.
    dfs = [_df(df) for df in sources["df"]] if "df" in sources else [math.nan] * len(columns[0])
    links = sources.get("link", [""] * len(columns[0]))
    components = tuple(
        Component(source, type_, u, unit, df, number, link)
        for source, type_, u, unit, df, number, link in zip(*columns, dfs, numbers, links, strict=True)
    )
    return {
        name: Budget(_df(score["df"]), tuple(BudgetTable(components, score["sensitivities"])))
        for name, score in stored["scores"].items()
    }


def _stored_df(df: float) -> float | None:
    return df if math.isfinite(df) else None


def _df(stored: float | None) -> float:
    return math.inf if stored is None else stored
