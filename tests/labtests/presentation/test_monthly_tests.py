"""The months of the lab in words: every reason to hold a test has a short name.

The codes are collected from the code: the first argument of each `Reason(…)`, and each stored reason (`{"code": …}`).
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from labtests.domain.conditions.climate import EXCURSION
from labtests.domain.scores.protocol import CALIBRATED, WORDS, unsigned_code
from labtests.models.benchtests import INCIDENT
from labtests.presentation.monthly_tests import CODE_WORDS
from labtests.services.bench.calibrations import struck_code

LAB = Path(__file__).parents[3] / "labtests"
TREES = [ast.parse(path.read_text()) for path in LAB.rglob("*.py") if "migrations" not in path.parts]
NODES = [node for tree in TREES for node in ast.walk(tree)]

# What is no text in the code, and the codes that it can be.
COMPUTED = {
    "EXCURSION": {EXCURSION},
    "INCIDENT": {INCIDENT},
    "name": set(WORDS),
    "shortfall.code": {
        keyword.value.value
        for node in NODES
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "CurveShortfall"
        for keyword in node.keywords
        if keyword.arg == "code" and isinstance(keyword.value, ast.Constant)
    },
    "unsigned_code(quantity)": {unsigned_code(quantity) for quantity in CALIBRATED},
    "struck_code(calibration.quantity)": {struck_code(quantity) for quantity in CALIBRATED},
}


def codes() -> Iterator[ast.expr]:
    for node in NODES:
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "Reason" and node.args:
            yield node.args[0]
        elif isinstance(node, ast.Dict) and {ast.unparse(key) for key in node.keys if key} == {"'code'", "'message'"}:
            value = node.values[0]
            # Anything else is copied from a reason that is there already.
            if isinstance(value, ast.Constant) or ast.unparse(value).isupper():
                yield value


def possible(code: ast.expr) -> set[str]:
    """Every code that an expression can be."""
    if isinstance(code, ast.Constant):
        return {code.value}
    if isinstance(code, ast.JoinedStr):
        parts = [re.escape(part.value) if isinstance(part, ast.Constant) else "[a-z]+" for part in code.values]
        return {known for known in CODE_WORDS if re.fullmatch("".join(parts), known)} or {ast.unparse(code)}
    return COMPUTED[ast.unparse(code)]


FOUND = sorted({found for code in codes() for found in possible(code)})


def test_codes_are_found():
    assert {"spike", "reviewer", "torsion_short", "torsion_missing", "calibration_force_struck"} <= set(FOUND)


@pytest.mark.parametrize("code", FOUND)
def test_code_has_a_short_name(code):
    assert code in CODE_WORDS


def test_every_short_name_is_of_a_code():
    assert set(CODE_WORDS) == set(FOUND)
