"""The lint of retired words and straight apostrophes reads what people read, and nothing else."""

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


@pytest.fixture
def straight(retired_words, tmp_path, monkeypatch):
    """Return a function that looks for straight apostrophes in one file."""
    monkeypatch.setattr(retired_words, "ROOT", tmp_path)

    def check(name, content):
        path = tmp_path / name
        path.write_text(content, encoding="utf-8")
        return list(retired_words.straight_apostrophes(path))

    return check


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("page.html", "<p>The shoe's own.</p>"),
        ("page.html", "<p>The stores' own.</p>"),
        ("page.html", "<p>It is the stores'.</p>"),
        ("page.html", "<p>{{ shoe }}'s own.</p>"),
        ("page.html", '<a title="the shoe\'s page">…</a>'),
        ("page.html", '{% include "box.html" with title="It can\'t be" only %}'),
        ("words.py", 'TEXT = "It can\'t be."'),
        ("words.py", 'TEXT = f"{name}\'s own"'),
        ("words.js", 'stop("It can\'t be.");'),
    ],
)
def test_straight_apostrophe_of_a_text_is_found_with_its_line(straight, name, content):
    (problem,) = straight(name, f"\n{content}\n")
    assert problem.startswith(f"{name}:2: ")
    assert "’" in problem.rpartition("write: ")[2]


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("page.html", "{% comment %}the shoe's{% endcomment %}{# the shoe's #}<p>the shoe’s</p>"),
        ("page.html", "{% url 'shoes' slug %}{% if a == 'words' or b == 'x' %}{{ d|date:'j F' }}{% endif %}"),
        ("words.py", '"""The shoe\'s own."""\nX = f"no {name!r} here"\nY = "SELECT \'a\' AS b"  # the shoe\'s own\n'),
        ("words.py", "X = \"SELECT now() - interval '3 days' FROM a WHERE b = 'words' and c\""),
        ("words.js", '/* the shoe\'s own */\nx("a"); // the shoe\'s "own" one\n'),
    ],
)
def test_apostrophes_of_code_and_comments_are_left_alone(straight, name, content):
    assert straight(name, content) == []


def test_every_pattern_is_a_regular_expression_with_a_replacement(retired_words):
    config = tomllib.loads(retired_words.CONFIG.read_text(encoding="utf-8"))
    lint = retired_words.Lint(config)
    assert all(plain.strip() for _, plain in lint.words)
    for entry in config.get("allowed", []):
        source = (retired_words.ROOT / entry["file"]).read_text(encoding="utf-8")
        assert entry["text"] in source, f"{entry['file']} no longer says “{entry['text']}”"
