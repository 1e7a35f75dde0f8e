"""Shoes beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.domain.similarity import Difference
from catalogue.presentation.lists import Option
from catalogue.presentation.shoes import ShoeText, score_text, shoe_text
from catalogue.presentation.words import FEATURE_KINDS, FEATURE_NAMES, VERDICTS
from catalogue.selectors import ShoeRow, Similar
from catalogue.selectors.shoes import SpectrumPoint
from core import display


@dataclass(frozen=True, slots=True)
class DifferenceText:
    """One feature of two shoes, in words."""

    name: str
    here: str
    there: str
    difference: str
    verdict: str
    is_beyond: bool


@dataclass(frozen=True, slots=True)
class SimilarText:
    shoe: ShoeText
    distance: str
    summary: str
    differences: tuple[DifferenceText, ...]


@dataclass(frozen=True, slots=True)
class ComparedCell:
    """A value of a shoe, and how it stands to the first shoe's ("" for the first)."""

    title: str
    value: str
    difference: str
    verdict: str
    is_beyond: bool


@dataclass(frozen=True, slots=True)
class ComparedRow:
    name: str
    cells: tuple[ComparedCell, ...]


def _feature(feature: str, value: float | None, units: str) -> str:
    kind = FEATURE_KINDS.get(feature)
    return display.number(value) if kind is None else display.measure(value, kind, units)


def _signed_feature(feature: str, value: float | None, units: str) -> str:
    text = _feature(feature, value, units)
    return f"+{text}" if value is not None and value > 0 and float(text.split(display.NO_BREAK)[0]) > 0 else text


def difference_text(difference: Difference, units: str) -> DifferenceText:
    spread = "" if difference.expanded_u is None else f" ± {display.number(difference.expanded_u)}"
    stated = difference.feature in FEATURE_KINDS and difference.verdict == "unknown"
    return DifferenceText(
        name=FEATURE_NAMES[difference.feature],
        here=_feature(difference.feature, difference.here, units),
        there=_feature(difference.feature, difference.there, units),
        difference=_signed_feature(difference.feature, difference.difference, units) + spread,
        verdict="no uncertainty stated" if stated else VERDICTS[difference.verdict],
        is_beyond=difference.verdict == "beyond",
    )


def similar_text(near: Similar, units: str) -> SimilarText:
    """Say how near a shoe is and which scores tell it apart."""
    told_apart = [FEATURE_NAMES[part.feature].lower() for part in near.differences if part.verdict == "beyond"]
    summary = f"Told apart by {display.listed(told_apart)}." if told_apart else "The bench does not tell the two apart."
    return SimilarText(
        shoe=shoe_text(near.shoe, units),
        distance=display.number(near.distance, 2),
        summary=summary,
        differences=tuple(difference_text(part, units) for part in near.differences),
    )


def compared_rows(
    shoes: Sequence[ShoeRow], differences: Sequence[Sequence[Difference]], units: str
) -> list[ComparedRow]:
    """Set shoes side by side: a row a feature, each cell with its difference from the first shoe."""
    rows = []
    for index, feature in enumerate(FEATURE_NAMES):
        cells = []
        for column, shoe in enumerate(shoes):
            score = shoe.scores().get(feature)
            value = score_text(score) if score else _feature(feature, getattr(shoe, feature), units)
            told = difference_text(differences[column - 1][index], units) if column else None
            cells.append(
                ComparedCell(
                    shoe.title,
                    value,
                    told.difference if told else "",
                    told.verdict if told else "",
                    told.is_beyond if told else False,
                )
            )
        rows.append(ComparedRow(FEATURE_NAMES[feature], tuple(cells)))
    return rows


def other_options(points: Sequence[SpectrumPoint], chosen: Sequence[str]) -> list[Option]:
    """Offer every published shoe that is not among the chosen ones, by name."""
    others = sorted((point.title, point.slug) for point in points if point.slug not in chosen)
    return [Option(slug, title, is_chosen=False) for title, slug in others]
