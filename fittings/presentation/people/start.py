"""The public page "Where to start", worded and rounded, so that the template only places it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from catalogue.presentation.detail import StoreStock, stock_lines
from core.web import display
from fittings.domain.fitting.need import Need
from fittings.selectors.people.start import Start, StartingShoe, Worn


@dataclass(frozen=True, slots=True)
class StartLine:
    """One shoe of the range."""

    slug: str
    title: str
    band: Any
    score: Any
    probability: str
    facts: tuple[tuple[str, str], ...]
    stock: tuple[StoreStock, ...]


def start_lines(start: Start, units: str, sizes: str) -> tuple[StartLine, ...]:
    """Write the shoes with their measures and sizes in the reader's systems."""
    return tuple(_line(item, units, sizes) for item in start.shoes)


def _line(item: StartingShoe, units: str, sizes: str) -> StartLine:
    shoe = item.shoe
    return StartLine(
        slug=shoe.slug,
        title=shoe.title,
        band=shoe.band,
        score=shoe.stability,
        probability=display.probability(item.suggestion.probability),
        facts=(
            ("Cushioning", display.number(shoe.cushioning.value)),
            ("Drop", display.measure(shoe.drop_mm, "length", units)),
            ("Mass", display.measure(shoe.mass_g, "mass", units)),
        ),
        stock=tuple(stock_lines(shoe, sizes)),
    )


def not_looked_at_words(need: Need) -> str:
    """Why the target of a visitor is wider, without the fitters' names of what they look at."""
    if not need.left_out:
        return ""
    return "A fitter looks at more of how your feet and lower legs move. Without that the target is wider."


def worn_words(worn: Worn | None, went: str, need: Need) -> str:
    """What the shoe worn now says about the range; "" where none was named."""
    if worn is None:
        return ""
    if worn.is_ambiguous:
        return f"Several of our shoes are called “{worn.name}”. Write the whole name to see how yours measured."
    if worn.shoe is None:
        return f"We have no published score of “{worn.name}”. A store can look at it, and at you in it."
    score = worn.shoe.stability.value
    place = "in" if need.contains(score) else "outside"
    lead = f"{worn.shoe.title} measures {display.number(score)}, {place} this range."
    if went == "well":
        return f"{lead} It went well, and that counts for more than the range: try what measures like it first."
    if went == "badly":
        return f"{lead} It went badly: try what measures differently, and say so in the store."
    return lead


def distance_words(distance_km_week: float | None, units: str) -> str:
    """Why the distance adds no points; "" where none was given."""
    if distance_km_week is None:
        return ""
    return f"{display.measure(distance_km_week, 'distance', units)} a week adds no points: no rule here uses distance."
