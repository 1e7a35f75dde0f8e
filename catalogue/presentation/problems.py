"""What of the filters can't be read, said with the words that the form has beside each field."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.domain.filters import ORDERS, VIEWS
from catalogue.forms.query import BadQuery
from catalogue.presentation.lists import RANGE_NAMES

_ENDS = {"min": "from", "max": "to"}
# Of the other keys that a page reads: the labels of their fields.
_LABELS = {
    "q": "Search",
    "band": "Band",
    "use": "Made for",
    "size": "Size in stock",
    "store": "Store",
    "wearer": "For whom",
    "width": "Width fitting",
    "photo": "With a photo",
    "order": "Sort by",
    "view": "Drawing",
    "page": "Page",
    "weigh": "Weigh as well",
    "available": "Only what is in stock",
    "shoe": "Shoe",
    "paper": "Paper",
}
# Choices that pages name by other words than addresses do.
_CHOICES = {"order": ORDERS, "view": VIEWS}


@dataclass(frozen=True, slots=True)
class FieldProblem:
    """One sentence on a field: the field's part of the filter ("" where it has no field), its label, what is wrong."""

    part: str
    label: str
    sentence: str

    @property
    def after_label(self) -> str:
        """What follows the label where that is a link to the field."""
        named = f"“{self.label}” "
        return f" {self.sentence.removeprefix(named)}" if self.sentence.startswith(named) else f": {self.sentence}"


def _place(key: str) -> tuple[str, str]:
    """Return which part of the filter a key belongs to, and its label: "drop_min_in" is "Drop, from"."""
    name, _, end = key.partition("_")
    if name == "mass":
        return "mass", "Mass at most"
    if name in RANGE_NAMES and end[:3] in _ENDS:
        return name, f"{RANGE_NAMES[name]}, {_ENDS[end[:3]]}"
    return "", _LABELS.get(key, "")


def with_label(key: str, sentence: str) -> str:
    """Say what is wrong in the words of the field, not by key and codes, which only addresses and programs use."""
    _, label = _place(key)
    if key in _CHOICES and sentence.startswith(f"{key} must be one of "):
        return _no_such_choice(key, label, got=sentence.partition(", got ")[2].removesuffix("."))
    return f"“{label}” {sentence.removeprefix(f'{key} ')}" if label and sentence.startswith(f"{key} ") else sentence


def _no_such_choice(key: str, label: str, got: str) -> str:
    return f"“{label}” has no choice {got}. Choose one of: {'; '.join(_CHOICES[key].values())}."


def sentences_with_labels(problem: BadQuery) -> list[str]:
    return [with_label(key, sentence) for key, sentences in problem.fields.items() for sentence in sentences]


def field_problems(problem: BadQuery) -> list[FieldProblem]:
    """Return what is wrong, field by field; a range that runs backwards is said with the labels of its two fields."""
    found = []
    for key, sentences in problem.fields.items():
        part, label = _place(key)
        for sentence in sentences:
            said = with_label(key, sentence)
            if part and "must not be above" in sentence:
                said = sentence.replace(f"{part}_min", "“from”").replace(f"{part}_max", "“to”")
                label = RANGE_NAMES[part]
            found.append(FieldProblem(part, label, said))
    return found


def by_part(problems: list[FieldProblem]) -> Mapping[str, str]:
    """Return the sentences to be shown at the fields, one text a part of the filter."""
    parts: dict[str, str] = {}
    for problem in problems:
        if problem.part:
            parts[problem.part] = f"{parts.get(problem.part, '')} {problem.sentence}".strip()
    return parts
