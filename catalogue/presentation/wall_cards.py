"""Wall cards in words: what is printed of a shoe, and whether a card that hangs still holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import segno
from django.conf import settings
from django.utils.safestring import SafeString, mark_safe

from catalogue.models import PrintRun
from catalogue.presentation.addresses import shoe_url
from catalogue.presentation.shoes import score_text
from catalogue.presentation.words import SCORE_NAMES, USE_NAMES, version_text
from catalogue.selectors import ShoeRow
from catalogue.selectors.public.rows import Score
from catalogue.selectors.stock.walls import WallShoe
from core.web import display

# What a fifth of the scale from 0 to 100 is called, lowest first; the words are our own, the limits too.
SCORE_WORDS = {
    "midfoot": ("twists very easily", "twists easily", "middling to twist", "hard to twist", "very hard to twist"),
    "rearfoot": ("heel sinks deep", "heel sinks", "heel gives a little", "heel hardly sinks", "heel stays firm"),
    "cushioning": ("absorbs very little", "absorbs little", "absorbs some", "absorbs much", "absorbs very much"),
}
FIFTHS = (20.0, 40.0, 60.0, 80.0)


@dataclass(frozen=True, slots=True)
class CardScore:
    """One score on a card; `bar` is its length from 0 to 100 as it is drawn."""

    name: str
    words: str
    value: str
    bar: str


@dataclass(frozen=True, slots=True)
class WallCard:
    """A card ready to be printed. `replaced` says what of it no longer holds, "" where all does."""

    brand: str
    name: str
    use: str
    band_order: int
    band_name: str
    band_note: str
    suits: str
    stability: str
    stability_at: str
    scores: tuple[CardScore, ...]
    facts: str
    address: str
    code: SafeString
    foot: str
    replaced: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet of paper with its cards; `blank` counts the places that stay empty."""

    cards: tuple[WallCard, ...]
    number: int
    of: int


def score_words(name: str, value: float) -> str:
    """Say a score in words.

    Examples
    --------
    >>> score_words("midfoot", 19.9), score_words("midfoot", 80.0)
    ('twists very easily', 'very hard to twist')
    """
    return SCORE_WORDS[name][sum(value >= limit for limit in FIFTHS)]


def _bar(score: Score) -> str:
    return f"{min(max(score.value, 0.0), 100.0):.1f}"


@lru_cache(maxsize=1024)
def code_for(address: str) -> SafeString:
    """Return the QR code of an address as inline SVG, with its quiet zone; drawn here, nobody else is asked."""
    svg = segno.make(address, error="m", micro=False).svg_inline(
        border=4, omitsize=True, svgclass="wall-card__code", lineclass=None, light="#fff"
    )
    return mark_safe(svg)  # noqa: S308  drawn by segno; the address in it becomes a picture only


def _band_note(shoe: ShoeRow) -> str:
    band = shoe.band
    notes = []
    if band.probability is not None and display.is_in_doubt(band.probability):
        notes.append(f"{display.probability(band.probability)} likely")
    if band.borderline:
        notes.append(f"borderline to {band.neighbour}" if band.neighbour else "borderline")
    if band.provisional:
        notes.append("provisional")
    return ", ".join(notes)


def wall_card(shoe: ShoeRow, run: PrintRun, units: str, *, replaced: str = "") -> WallCard:
    address = f"{settings.SITE_URL.rstrip('/')}{shoe_url(shoe.slug)}"
    mass, drop = (display.measure(shoe.mass_g, "mass", units), display.measure(shoe.drop_mm, "length", units))
    return WallCard(
        brand=shoe.brand,
        name=f"{shoe.name} {shoe.version}".rstrip(),
        use=USE_NAMES[shoe.use],
        band_order=shoe.band.order,
        band_name=shoe.band.name,
        band_note=_band_note(shoe),
        suits=shoe.band.suits,
        stability=score_text(shoe.stability),
        stability_at=_bar(shoe.stability),
        scores=tuple(
            CardScore(SCORE_NAMES[name], score_words(name, score.value), score_text(score), _bar(score))
            for name, score in shoe.scores().items()
            if name != "stability"
        ),
        facts=f"Mass {mass}, drop {drop}",
        address=address.partition("://")[2],
        code=code_for(address),
        foot=(
            f"Scores of {display.day(shoe.published_at)}, model {version_text(shoe.scoring_model)}, "
            f"protocol {version_text(shoe.protocol)}, "
            f"{display.count(shoe.specimens, 'specimen')}. Printed {display.day(run.printed_at)}."
        ),
        replaced=replaced,
    )


def sheets(cards: Sequence[WallCard], per_sheet: int) -> list[Sheet]:
    """Deal cards out on sheets."""
    dealt = [tuple(cards[start : start + per_sheet]) for start in range(0, len(cards), per_sheet)]
    return [Sheet(found, number, len(dealt)) for number, found in enumerate(dealt, start=1)]


def card_note(shoe: WallShoe) -> tuple[str, str]:
    """Say whether a shoe's wall card is up to date: words, and the kind of mark that they are shown in."""
    card = shoe.card
    if card is None:
        return ("no card", "off") if shoe.is_published else ("not published", "off")
    match card.kind:
        case "good":
            return f"up to date, printed {display.day(card.printed_at)}", "good"
        case "old":
            return f"out of date: says {display.number(card.stability)}, {card.band}", "stop"
    return "take it down: no longer published", "stop"
