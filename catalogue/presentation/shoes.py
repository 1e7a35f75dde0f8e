"""A published shoe as one line of a list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.conf import settings
from django.urls import reverse

from catalogue.domain.outline import Outline, Traits, outline, traits
from catalogue.domain.sizes import EU
from catalogue.presentation.addresses import shoe_url
from catalogue.presentation.sizes import run_text
from catalogue.presentation.words import SCORE_NAMES, USE_NAMES
from catalogue.selectors import BandView, ListedShoe, Score, ShoePoint, ShoeRow
from core.web import display

BAR_PX = 20.0
BAR_STEP_PX = 9


@dataclass(frozen=True, slots=True)
class Look:
    """What a shoe looks like at a glance: the address of its photo or else its outline, and four bars."""

    photo: str
    outline: Outline
    traits: Traits
    signature: str


@dataclass(frozen=True, slots=True)
class ShoeText:
    """A published shoe, one line of a list."""

    slug: str
    url: str
    brand: str
    name: str
    title: str
    use: str
    band: BandView
    stability: str
    midfoot: str
    rearfoot: str
    cushioning: str
    mass: str
    drop: str
    sizes: str
    is_discontinued: bool
    price: str = ""
    look: Look | None = None


def score_text(score: Score) -> str:
    """Write a score as "55.1 ± 2.1", with "estimated" where it is."""
    spread = display.give_or_take(score.expanded_uncertainty)
    return f"{display.number(score.value)}{spread}{' (estimated)' if score.estimated else ''}"


def sizes_text(shoe: ShoeRow, system: str = EU, store: str | None = None) -> str:
    """Write the sizes in stock in a store, or anywhere, runs of half sizes in one: "EU 38 to 41, 42.5"."""
    held = (line.sizes for line in shoe.stores if store in (None, line.slug))
    return run_text(sorted({size for sizes in held for size in sizes}), system)


def shoe_text(shoe: ShoeRow, units: str, system: str = EU, store: str | None = None) -> ShoeText:
    """Write a shoe as a line of a list, with its sizes in a store where one is given, in the reader's system."""
    return _text(shoe, units, scores=shoe.scores(), sizes=sizes_text(shoe, system, store))


def listed_text(shoe: ListedShoe, units: str, system: str = EU) -> ShoeText:
    text = _text(shoe, units, scores=shoe.scores, sizes=run_text(shoe.sizes, system))
    price = "" if shoe.price is None else f"{settings.CURRENCY}{display.NO_BREAK}{display.number(shoe.price, 2)}"
    return replace(text, price=price, look=_look(shoe))


def _look(shoe: ListedShoe) -> Look:
    digest, _, width = shoe.photo.partition("-")
    photo = reverse("catalogue:photo-file", args=[digest, int(width)]) if digest else ""
    drawn = traits_of(shoe.use, shoe.stacks_mm, shoe.scores)
    return Look(photo, outline(shoe.use, *shoe.stacks_mm), drawn, signature(shoe.scores))


def traits_of(use: str, stacks_mm: tuple[float, float], scores: Mapping[str, Score]) -> Traits:
    """Draw a shoe's scores into its outline; a stack height that is not known is nan."""
    drawn = {name: scores[name].value for name in ("midfoot", "rearfoot", "cushioning")}
    return traits(use, *stacks_mm, **drawn)


def signature(scores: Mapping[str, Score]) -> str:
    """Return the four scores as bars beside each other, one path; below 0 and above 100 a bar ends at its frame."""
    heights = (min(max(score.value, 0.0), 100.0) / 100.0 * BAR_PX for score in scores.values())
    return "".join(
        f"M{place * BAR_STEP_PX} {BAR_PX:.0f}v-{max(height, 1.0):.1f}h6V{BAR_PX:.0f}z"
        for place, height in enumerate(heights)
    )


def _text(shoe: ShoeRow | ListedShoe, units: str, *, scores: Mapping[str, Score], sizes: str) -> ShoeText:
    name = f"{shoe.name} {shoe.version}".rstrip()
    return ShoeText(
        slug=shoe.slug,
        url=shoe_url(shoe.slug),
        brand=shoe.brand,
        name=name,
        title=f"{shoe.brand} {name}",
        use=USE_NAMES[shoe.use],
        band=shoe.band,
        stability=score_text(scores["stability"]),
        midfoot=score_text(scores["midfoot"]),
        rearfoot=score_text(scores["rearfoot"]),
        cushioning=score_text(scores["cushioning"]),
        mass=display.measure(shoe.mass_g, "mass", units),
        drop=display.measure(shoe.drop_mm, "length", units),
        sizes=sizes,
        is_discontinued=shoe.is_discontinued,
    )


def description(shoe: ShoeRow) -> str:
    """Say in a sentence what was measured of a shoe, for previews of its page elsewhere."""
    parts = ", ".join(f"{SCORE_NAMES[name].lower()} {score_text(score)}" for name, score in shoe.scores().items())
    tested = f"{display.count(shoe.specimens, 'specimen')} tested, last on {display.day(shoe.tested_on)}"
    return f"{shoe.title}, band {shoe.band.name}: {parts}. {tested}. Scores describe a shoe on the bench, not a person."


def point_of(shoe: ShoeRow) -> ShoePoint:
    """Return a shoe as a point of the stability scale."""
    return ShoePoint(
        slug=shoe.slug,
        brand=shoe.brand,
        name=shoe.name,
        version=shoe.version,
        stability=shoe.stability.value,
        expanded_u=shoe.stability.expanded_uncertainty,
        band_order=shoe.band.order,
        band_name=shoe.band.name,
        is_match=True,
    )
