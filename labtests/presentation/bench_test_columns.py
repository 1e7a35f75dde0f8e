"""The list of tests: its cells in the units of the reader, and its headings, which sort it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import QueryDict

from core.web import display
from labtests.forms.workbench import COLUMNS
from labtests.models import BenchTest
from labtests.presentation import bench_tests as words
from labtests.presentation.bench_tests import ScoreLine, StateBadge
from labtests.selectors.bench_tests import ORDERS, Scales, result_of

NUMBERS = {
    *("conditioned", "temperature", "worn", "torque", "deflection", "work", "energy_return"),
    *("stability", "midfoot", "rearfoot", "cushioning"),
}
SCORES = ("stability", "midfoot", "rearfoot", "cushioning")
# Key of a column, the column of a test, and what it measures.
MEASURES = {
    "temperature": ("temperature_c", "temperature"),
    "worn": ("worn_km", "distance"),
    "torque": ("torque_15_nm", "torque"),
    "deflection": ("deflection_mm", "length"),
    "work": ("work_j", "energy"),
}


@dataclass(frozen=True, slots=True)
class Heading:
    """The heading of a column: `url` sorts by it, the other way round where the list is sorted by it already."""

    key: str
    label: str
    is_number: bool
    url: str
    sorted: str


@dataclass(frozen=True, slots=True)
class Cell:
    """One value of a test: a text, or what the template has a part for (`kind` "state", "score" or "band")."""

    label: str
    is_number: bool
    kind: str = "text"
    value: Any = ""


@dataclass(frozen=True, slots=True, eq=False)
class BenchTestRow:
    """A test in the list."""

    test: BenchTest
    badge: StateBadge
    cells: tuple[Cell, ...]


def headings(columns: Sequence[str], query: QueryDict) -> list[Heading]:
    order = query.get("order", "")
    named = [("test", "Test"), ("shoe", "Shoe and specimen"), *((key, COLUMNS[key]) for key in columns)]
    return [
        Heading(
            key,
            label,
            key in NUMBERS,
            url=_sorting(query, f"-{key}" if order == key else key) if key in ORDERS else "",
            sorted={key: "ascending", f"-{key}": "descending"}.get(order, ""),
        )
        for key, label in named
    ]


def _sorting(query: QueryDict, order: str) -> str:
    """The address of the same list in another order, from its first page."""
    changed = query.copy()
    changed.pop("page", None)
    changed["order"] = order
    return f"?{changed.urlencode()}"


def test_row(test: BenchTest, columns: Sequence[str], scales: Scales, system: str) -> BenchTestRow:
    result = result_of(test)
    scores = dict(zip(SCORES, words.score_lines(result, with_budgets=False), strict=True)) if result else {}
    placement = scales.place(result) if result and "band" in columns else None
    special = {
        "state": ("state", words.badge(test)),
        "band": ("band", placement),
        **{name: ("score", scores.get(name)) for name in SCORES},
    }
    return BenchTestRow(test, words.badge(test), tuple(_cell(test, key, special, system) for key in columns))


def _cell(test: BenchTest, key: str, special: dict[str, tuple[str, ScoreLine | Any]], system: str) -> Cell:
    kind, value = special.get(key) or ("text", _text(test, key, system))
    return Cell(COLUMNS[key], key in NUMBERS, kind, value)


def _text(test: BenchTest, key: str, system: str) -> str:
    if key in MEASURES:
        column, kind = MEASURES[key]
        return display.measure(getattr(test, column), kind, system)
    if key == "conditioned":
        return f"{display.number(test.conditioned_h)}{display.NO_BREAK}h"
    if key == "energy_return":
        return display.percent(test.energy_return)
    return {
        "rig": test.rig.code,
        "operator": test.operator.display_name,
        "performed": display.day(test.performed_at),
        "protocol": test.protocol.version,
        "held": "; ".join(entry["message"] for entry in test.reasons),
    }[key]
