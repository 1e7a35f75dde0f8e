"""Roles are compared in the gate and where they are given and withdrawn; everything else asks for an action."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from core.gate.access import Role

ROOT = Path(__file__).parents[3]
APPS = ("core", "catalogue", "labtests", "fittings")
MAY_COMPARE = re.compile(
    r"core/(gate/access|management/commands/make_account)\.py|core/(accounts|models)/.*|\w+/permissions\.py"
)
NAMES = "|".join(role.value for role in Role)
COMPARED = re.compile(rf"""\bRole\.[A-Z]|\brole\b\s*(==|!=)\s*["']|["']({NAMES})["']\s+in\s+\S*roles""")


def sources() -> list[Path]:
    code = [path for app in APPS for path in (ROOT / app).rglob("*.py") if "migrations" not in path.parts]
    return [*code, *(ROOT / "templates").rglob("*.html")]


def test_only_the_gate_and_the_accounts_compare_roles():
    found = {
        str(path.relative_to(ROOT))
        for path in sources()
        if COMPARED.search(path.read_text()) and not MAY_COMPARE.fullmatch(str(path.relative_to(ROOT)))
    }
    assert found == set()


@pytest.mark.parametrize(
    "text",
    ["if row.role == Role.MANAGER:", '{% if held.role == "fitter" %}', "role=Role.OFFICE", "'office' in user.roles"],
)
def test_pattern_finds(text):
    assert COMPARED.search(text)
