"""Fail where a template or a text of a page has a retired word (`retired_words.toml`), and name the replacement."""

from __future__ import annotations

import ast
import re
import sys
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
CONFIG = Path(__file__).with_suffix(".toml")
# Where texts for readers are written in Python.
PYTHON_TEXTS = ("*/presentation/**/*.py", "*/forms/**/*.py", "core/**/*.py", "*/permissions.py", "*/audit_words.py")
_CODE = re.compile(r"\{\{.*?\}\}|\{%(?!-?\s*(?:end)?comment).*?%\}", re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
_READ_ATTRIBUTES = re.compile(r'\b(?:aria-label|title|alt|placeholder)="([^"]*)"')


@dataclass(frozen=True, slots=True)
class Text:
    """A piece of text that somebody reads, with the line it starts on."""

    line: int
    text: str


def blank(match: re.Match[str]) -> str:
    """Replace code with as many lines, so that line numbers remain right."""
    return "\n" * match[0].count("\n") or " "


def blank_tag(match: re.Match[str]) -> str:
    return f" {' '.join(_READ_ATTRIBUTES.findall(match[0]))}{blank(match)}"


def template_texts(source: str) -> Iterator[Text]:
    text = _TAG.sub(blank_tag, _CODE.sub(blank, source))
    yield from (Text(number, line) for number, line in enumerate(text.splitlines(), start=1))


def python_texts(source: str) -> Iterator[Text]:
    """Yield the string literals that are sentences: a word alone is a key or a name."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value.strip():
            yield Text(node.lineno, node.value)


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def files() -> list[Path]:
    templates = [path for path in (ROOT / "templates").rglob("*") if path.is_file()]
    python = {path for pattern in PYTHON_TEXTS for path in ROOT.glob(pattern) if "migrations" not in path.parts}
    return sorted({*templates, *python})


class Lint:
    def __init__(self, config: dict[str, object]) -> None:
        words: dict[str, str] = config["words"]  # type: ignore[assignment]
        allowed: list[dict[str, str]] = config.get("allowed", [])  # type: ignore[assignment]
        self.words = [(re.compile(rf"\b(?:{word})\b", re.IGNORECASE), plain) for word, plain in words.items()]
        self.allowed = [(entry["file"], entry["text"]) for entry in allowed]

    def problems(self, path: Path) -> Iterator[str]:
        name = name_of(path)
        source = path.read_text(encoding="utf-8")
        for part in python_texts(source) if path.suffix == ".py" else template_texts(source):
            text = part.text
            for file, allowed in self.allowed:
                text = text.replace(allowed, "") if file == name else text
            for word, plain in self.words:
                for match in word.finditer(text):
                    line = part.line + text.count("\n", 0, match.start())
                    yield f"{name}:{line}: “{match[0]}” is retired; write: {plain}"


def main() -> int:
    config = tomllib.loads(CONFIG.read_text(encoding="utf-8"))
    exempt = config["until_cleaned"]["patterns"]
    lint = Lint(config)
    checked = [path for path in files() if not any(fnmatch(name_of(path), pattern) for pattern in exempt)]
    problems = [problem for path in checked for problem in lint.problems(path)]
    sys.stderr.writelines(f"{problem}\n" for problem in problems)
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
