"""Outcomes as the public reads them: the words and numbers that head office sees, fewer of them, and plainer."""

from __future__ import annotations

from typing import Any

from core.web.display import METRIC
from fittings.presentation.outcomes.outcomes import GroupLine, OutcomesPage, outcomes_page
from fittings.selectors.outcomes.outcomes import Outcomes

FORMAT = 1


def evidence_figures(outcomes: Outcomes) -> dict[str, Any]:
    """Return what is published of outcomes. Every number is one that the page of head office shows."""
    page = outcomes_page(outcomes, METRIC)
    return {
        "format": FORMAT,
        "stores": len(outcomes.stores),
        "groups": [_group(group) for group in page.groups],
        "total": _group(page.total),
        "shares": _shares(page),
        "statements": [
            {"name": item.name, "value": item.value, "sentence": item.sentence, "how": item.how}
            for item in page.statements
        ],
        "n": page.n,
    }


def _group(group: GroupLine) -> dict[str, str]:
    names = ("name", "people", "at_risk", "recurrences", "lost", "km", "rate")
    return {name: getattr(group, name) for name in names}


def _shares(page: OutcomesPage) -> list[dict[str, Any]]:
    return [{"weeks": row.weeks, "cells": [list(cell) for cell in row.cells]} for row in page.curve_rows]
