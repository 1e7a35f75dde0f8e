"""Templates name in a comment the classes that they are given: each by the module that defines it."""

from __future__ import annotations

import re
from importlib import import_module
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[3]
COMMENT = re.compile(r"\{% comment %\}.*?\{% endcomment %\}|\{#.*?#\}", re.DOTALL)
NAMED = re.compile(r"\b((?:[a-z_]+\.)+)([A-Z]\w+)")
NAMES = sorted(
    {
        (module.rstrip("."), name)
        for path in (ROOT / "templates").rglob("*.html")
        for comment in COMMENT.findall(path.read_text())
        for module, name in NAMED.findall(comment)
    }
)


def test_templates_name_classes():
    assert len(NAMES) > 50


@pytest.mark.parametrize(("module", "name"), NAMES)
def test_class_is_defined_there(module, name):
    assert getattr(import_module(module), name).__module__ == module
