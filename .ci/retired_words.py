"""Fail where a text that people read has a retired word (`retired_words.toml`) or a straight apostrophe.

Each problem names what to write in its place.
"""

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
# Apostrophes are looked for wherever a message may be written. Code of migrations repeats what models once said.
APPS = ("config", "core", "catalogue", "labtests", "fittings", "fixtures")
_CODE = re.compile(r"\{\{.*?\}\}|\{%(?!-?\s*(?:end)?comment).*?%\}", re.DOTALL)
_TAG = re.compile(r"<[^>]*>")
_READ_ATTRIBUTES = re.compile(r'\b(?:aria-label|title|alt|placeholder)="([^"]*)"')
_TEMPLATE_COMMENT = re.compile(r"\{%-?\s*comment\b.*?endcomment\s*-?%\}|\{#.*?#\}|<!--.*?-->", re.DOTALL)
_TEMPLATE_CODE = re.compile(r"\{\{.*?\}\}|\{%.*?%\}", re.DOTALL)
_SCRIPT_COMMENT = re.compile(r"/\*.*?\*/|(?:^|(?<=\s))//[^\n]*", re.DOTALL)
_QUOTED = re.compile(r'"([^"\n]*)"')
# In a word, after a value that was filled in ("{name}'s"), or after a plural ("the stores'"), unless a quotation in SQL
# ends there ('public', interval '3 days').
_STRAIGHT_APOSTROPHE = re.compile(
    r"\w+'[^\W\d_]+|(?<!\S)'s\b|(?<!\S)(?<!\d )[^\W\d_]+s'(?= [a-z]|[.,;:)]|$)", re.MULTILINE
)


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


def quoted_sentences(code: str) -> list[str]:
    """Find the arguments of a tag, or the strings of a script, that are sentences."""
    return [text for text in _QUOTED.findall(code) if " " in text]


def template_sentences(source: str) -> Iterator[Text]:
    """Yield the lines of a template without comments; of its code only the arguments that are sentences."""

    def sentences_in(match: re.Match[str]) -> str:
        return f" {' '.join(quoted_sentences(match[0]))}{blank(match)}"

    text = _TEMPLATE_CODE.sub(sentences_in, _TEMPLATE_COMMENT.sub(blank, source))
    yield from (Text(number, line) for number, line in enumerate(_TAG.sub(blank_tag, text).splitlines(), start=1))


def script_sentences(source: str) -> Iterator[Text]:
    for number, line in enumerate(_SCRIPT_COMMENT.sub(blank, source).splitlines(), start=1):
        yield from (Text(number, sentence) for sentence in quoted_sentences(line))


def python_sentences(source: str) -> Iterator[Text]:
    """Yield what `python_texts` does, without docstrings: only developers read them."""
    tree = ast.parse(source)
    docstrings = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docstrings:
            # Parts of an f-string are constants too: of "{name}'s own", the second one.
            yield from [Text(node.lineno, node.value)] if " " in node.value else []


SENTENCES = {".py": python_sentences, ".js": script_sentences}


def straight_apostrophes(path: Path) -> Iterator[str]:
    sentences = SENTENCES.get(path.suffix, template_sentences)
    for part in sentences(path.read_text(encoding="utf-8")):
        for match in _STRAIGHT_APOSTROPHE.finditer(part.text):
            line = part.line + part.text.count("\n", 0, match.start())
            curly = match[0].replace("'", "’")
            yield f"{name_of(path)}:{line}: “{match[0]}” has a straight apostrophe; write: {curly}"


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def templates() -> list[Path]:
    return [path for path in (ROOT / "templates").rglob("*") if path.is_file()]


def files() -> list[Path]:
    python = {path for pattern in PYTHON_TEXTS for path in ROOT.glob(pattern) if "migrations" not in path.parts}
    return sorted({*templates(), *python})


def files_with_sentences() -> list[Path]:
    code = [path for app in APPS for kind in ("*.py", "static/**/*.js") for path in (ROOT / app).rglob(kind)]
    return sorted({*templates(), *(path for path in code if "migrations" not in path.parts)})


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
    problems += [problem for path in files_with_sentences() for problem in straight_apostrophes(path)]
    sys.stderr.writelines(f"{problem}\n" for problem in problems)
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
