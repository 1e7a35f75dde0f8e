"""The lint of retired words reads what people read, and nothing else."""

from __future__ import annotations

import importlib.util
import sys
import tomllib
from pathlib import Path

import pytest

SCRIPT = Path(__file__).resolve().parents[3] / ".ci" / "retired_words.py"


@pytest.fixture(scope="module")
def retired_words():
    # Dataclasses look their own module up by its name.
    spec = importlib.util.spec_from_file_location("retired_words", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    del sys.modules[spec.name]
    return module


@pytest.fixture
def problems(retired_words, tmp_path, monkeypatch):
    """Return a function that checks one file with one retired word."""
    monkeypatch.setattr(retired_words, "ROOT", tmp_path)
    config = {
        "words": {"mend(s|ed)?": "fix"},
        "allowed": [{"file": "page.html", "text": "road mended"}],
    }

    def check(name, content):
        path = tmp_path / name
        path.write_text(content, encoding="utf-8")
        return list(retired_words.Lint(config).problems(path))

    return check


@pytest.mark.parametrize(
    "content",
    [
        "<p>Mend it.</p>",
        '<a title="how to mend it">…</a>',
        "{% comment %}it mends{% endcomment %}",
        "<p>road mended, and mend this</p>",
    ],
)
def test_text_of_a_template_is_checked_and_the_replacement_named(problems, content):
    (problem,) = problems("page.html", f"<h1>Title</h1>\n{content}\n")
    assert problem.startswith("page.html:2: ")
    assert problem.endswith("write: fix")


@pytest.mark.parametrize("content", ['<p class="mend">{{ mend }}{% url "mend" %}</p>', "<p>amend, mending</p>"])
def test_code_and_parts_of_words_are_not(problems, content):
    assert problems("page.html", content) == []


def test_allowed_text_is_allowed_in_its_own_file_only(problems):
    assert problems("page.html", "<p>road mended</p>") == []
    assert len(problems("other.html", "<p>road mended</p>")) == 1


def test_sentences_in_python_are_checked_and_keys_are_not(problems):
    assert problems("words.py", 'KEY = "mend"\nmend = KEY\n') == []
    assert len(problems("words.py", 'TEXT = "how to mend it"\n')) == 1


def test_every_pattern_is_a_regular_expression_with_a_replacement(retired_words):
    config = tomllib.loads(retired_words.CONFIG.read_text(encoding="utf-8"))
    lint = retired_words.Lint(config)
    assert all(plain.strip() for _, plain in lint.words)
    for entry in config.get("allowed", []):
        source = (retired_words.ROOT / entry["file"]).read_text(encoding="utf-8")
        assert entry["text"] in source, f"{entry['file']} no longer says “{entry['text']}”"
