"""The index of decisions lists every one of them."""

from __future__ import annotations

import re
from pathlib import Path

FOLDER = Path(__file__).parents[2] / "docs" / "decisions"


def test_every_decision_is_in_the_index_by_its_number():
    listed = re.findall(r"^- \[(\d{3})\]\((\S+\.md)\)", (FOLDER / "README.md").read_text(), re.MULTILINE)
    decisions = sorted(path.name for path in FOLDER.glob("[0-9]*.md"))
    assert listed == [(name[:3], name) for name in decisions]
    for name in decisions:
        assert (FOLDER / name).read_text().startswith(f"# {name[:3]}: ")
