"""Shoes beside each other."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.urls import reverse

from catalogue.domain.similarity import Difference
from catalogue.domain.sizes import EU
from catalogue.forms.query import WEIGHED
from catalogue.presentation.addresses import shoe_url
from catalogue.presentation.lists import Option
from catalogue.presentation.shoes import ShoeText, score_text, shoe_text
from catalogue.presentation.words import DIRECTIONS, DOES, FEATURE_KINDS, FEATURE_NAMES, VERDICTS
from catalogue.selectors import Columns, ShoeRow, Similar
from catalogue.selectors.public.shoes import OtherVersion
from core.web import display

# What marks a shoe in a chart of several, beside its place in the order.
LETTERS = "ABCD"


@dataclass(frozen=True, slots=True)
class DifferenceText:
    """One feature of two shoes, in words."""

    name: str
    here: str
    there: str
    difference: str
    verdict: str
    is_beyond: bool
    share: str


@dataclass(frozen=True, slots=True)
class SimilarText:
    shoe: ShoeText
    distance: str
    summary: str
    changes: tuple[str, ...]
    differences: tuple[DifferenceText, ...]


@dataclass(frozen=True, slots=True)
class ComparedCell:
    """A value of a shoe, and how it compares with the first shoe's ("" for the first)."""

    heading: str
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
    return f"+{text}" if display.is_shown_positive(text) else text


def difference_text(difference: Difference, units: str) -> DifferenceText:
    spread = display.give_or_take(difference.expanded_u)
    stated = difference.feature in FEATURE_KINDS and difference.verdict == "unknown"
    return DifferenceText(
        name=FEATURE_NAMES[difference.feature],
        here=_feature(difference.feature, difference.here, units),
        there=_feature(difference.feature, difference.there, units),
        difference=_signed_feature(difference.feature, difference.difference, units) + spread,
        verdict="no uncertainty stated" if stated else VERDICTS[difference.verdict],
        is_beyond=difference.verdict == "beyond",
        share="not weighed" if difference.share is None and stated else display.percent(difference.share),
    )


def changes(differences: Sequence[Difference], units: str) -> tuple[str, ...]:
    """Say in words how the second shoe measurably differs from the first.

    Mass and drop are stated without an uncertainty: any difference of them is said, and that it is only stated.
    """
    found = []
    for part in differences:
        is_stated = part.feature in FEATURE_KINDS
        if part.difference is None or not (part.verdict == "beyond" or (is_stated and part.difference)):
            continue
        more, less = DIRECTIONS[part.feature]
        text = difference_text(part, units)
        source = "as stated" if is_stated else FEATURE_NAMES[part.feature].lower()
        found.append(f"{more if part.difference > 0 else less} ({source}, {text.difference})")
    return tuple(found)


def weighed_options(chosen: Collection[str]) -> list[Option]:
    """Offer the stated features that may count in the nearness."""
    return [Option(word, FEATURE_NAMES[feature], feature in chosen) for word, feature in WEIGHED.items()]


@dataclass(frozen=True, slots=True)
class VersionText:
    """The version before or after a shoe: what the newer does otherwise, and what the bench can't tell apart."""

    title: str
    url: str
    is_newer: bool
    changes: tuple[str, ...]
    unchanged: str


def version_text(other: OtherVersion, differences: Sequence[Difference], units: str) -> VersionText:
    """Say what changed from the older of two versions to the newer; the differences are in this direction."""
    same = [FEATURE_NAMES[part.feature].lower() for part in differences if part.verdict in ("same", "within")]
    return VersionText(
        other.title, shoe_url(other.slug), other.is_newer, changes(differences, units), display.listed(same)
    )


def similar_text(near: Similar, units: str, system: str = EU, store: str | None = None) -> SimilarText:
    """Say how near a shoe is, and which scores are measurably different."""
    different = [FEATURE_NAMES[part.feature].lower() for part in near.differences if part.verdict == "beyond"]
    summary = f"Measurably different in {display.listed(different)}." if different else "No measurable difference."
    return SimilarText(
        shoe=shoe_text(near.shoe, units, system, store),
        distance=display.number(near.distance, 2),
        summary=summary,
        changes=changes(near.differences, units),
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
            text = difference_text(differences[column - 1][index], units) if column else None
            cells.append(
                ComparedCell(
                    f"{LETTERS[column]} {shoe.name} {shoe.version}".rstrip(),
                    value,
                    text.difference if text else "",
                    text.verdict if text else "",
                    text.is_beyond if text else False,
                )
            )
        rows.append(ComparedRow(FEATURE_NAMES[feature], tuple(cells)))
    return rows


@dataclass(frozen=True, slots=True)
class Sentence:
    """What one feature of a shoe does against the first shoe, and whether that is a real difference."""

    text: str
    is_real: bool


@dataclass(frozen=True, slots=True)
class ShoeSentences:
    """How a shoe differs from the first one; the sentences name it by its letter."""

    letter: str
    title: str
    sentences: tuple[Sentence, ...]


def compared_sentences(
    shoes: Sequence[ShoeRow], differences: Sequence[Sequence[Difference]], units: str
) -> list[ShoeSentences]:
    """Say in sentences how each shoe after the first differs from it: the real differences first."""
    return [
        ShoeSentences(
            letter, shoe.title, tuple(sorted(_sentences(letter, parts, units), key=lambda one: not one.is_real))
        )
        for letter, shoe, parts in zip(LETTERS[1:], shoes[1:], differences, strict=False)
    ]


def _sentences(letter: str, parts: Sequence[Difference], units: str) -> list[Sentence]:
    found = []
    for part in parts:
        name, gap = FEATURE_NAMES[part.feature], part.difference
        size = _feature(part.feature, None if gap is None else abs(gap), units)
        does = "" if gap is None else DOES[part.feature][gap < 0]
        spread = display.give_or_take(part.expanded_u)
        if part.verdict == "beyond":
            found.append(Sentence(f"{letter} {does}: {size}{spread}, a real difference.", is_real=True))
        elif part.feature in FEATURE_KINDS and gap:
            found.append(Sentence(f"{letter} {does}: {size}, as stated by the makers, not measured.", is_real=False))
        elif part.feature in FEATURE_KINDS and gap == 0:
            found.append(Sentence(f"{name}: the same, as stated by the makers.", is_real=False))
        elif part.verdict in ("same", "within"):
            found.append(Sentence(f"{name}: no real difference ({size}{spread}).", is_real=False))
        elif part.verdict == "unknown":
            found.append(Sentence(f"{name}: {size} apart; the uncertainty is not known.", is_real=False))
    return found


@dataclass(frozen=True, slots=True)
class ComparedShoe:
    """A shoe of a comparison: its letter in the chart, and the address of the comparison without it."""

    letter: str
    text: ShoeText
    without_url: str


@dataclass(frozen=True, slots=True)
class OtherShoe:
    """A shoe to choose, and where choosing it leads."""

    title: str
    url: str
    note: str = ""


def compare_address(slugs: Sequence[str]) -> str:
    query = urlencode([("shoe", slug) for slug in slugs])
    return f"{reverse('catalogue:shoe-compare')}{'?' if query else ''}{query}"


def compared_shoes(shoes: Sequence[ShoeRow], units: str, system: str = EU) -> list[ComparedShoe]:
    slugs = [shoe.slug for shoe in shoes]
    return [
        ComparedShoe(
            letter, shoe_text(shoe, units, system), compare_address([slug for slug in slugs if slug != shoe.slug])
        )
        for letter, shoe in zip(LETTERS, shoes, strict=False)
    ]


def other_options(others: Sequence[tuple[str, str]], chosen: Sequence[str]) -> list[OtherShoe]:
    """Offer shoes, by short name and title, to set beside the chosen ones."""
    return [OtherShoe(title, compare_address([*chosen, slug])) for slug, title in others]


def replaced_options(columns: Columns, rows: Sequence[int]) -> list[OtherShoe]:
    """Offer shoes to find a replacement for."""
    return [
        OtherShoe(
            columns.title(row),
            f"{reverse('catalogue:shoe-similar', args=[columns.slugs[row]])}?available=yes",
            "discontinued" if columns.is_discontinued[row] else "",
        )
        for row in rows
    ]
