"""A published shoe as one line of a list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.presentation.addresses import shoe_url
from catalogue.presentation.words import SCORE_NAMES, USE_NAMES
from catalogue.selectors import BandView, ListedShoe, Score, ShoePoint, ShoeRow
from core.web import display

HALF = Decimal("0.5")


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


def score_text(score: Score) -> str:
    """Write a score as "55.1 ± 2.1", with "estimated" where it is."""
    spread = display.give_or_take(score.expanded_uncertainty)
    return f"{display.number(score.value)}{spread}{' (estimated)' if score.estimated else ''}"


def sizes_text(shoe: ShoeRow) -> str:
    """Write the sizes in stock anywhere, runs of half sizes in one: "EU 38 to 41, 42.5"."""
    return run_text(sorted({size for store in shoe.stores for size in store.sizes}))


def run_text(sizes: Sequence[Decimal]) -> str:
    """Write sizes in stock, smallest first: "EU 38 to 41, 42.5"."""
    if not sizes:
        return "none in stock"
    runs: list[list[Decimal]] = []
    for size in sizes:
        if runs and size - runs[-1][-1] <= HALF:
            runs[-1].append(size)
        else:
            runs.append([size])
    return f"EU{display.NO_BREAK}{', '.join(_run(run) for run in runs)}"


def _run(sizes: Sequence[Decimal]) -> str:
    first, last = display.bare_size(sizes[0]), display.bare_size(sizes[-1])
    return f"{first} to {last}" if len(sizes) > 2 else ", ".join(display.bare_size(size) for size in sizes)


def shoe_text(shoe: ShoeRow, units: str) -> ShoeText:
    return _text(shoe, units, scores=shoe.scores(), sizes=sizes_text(shoe))


def listed_text(shoe: ListedShoe, units: str) -> ShoeText:
    return _text(shoe, units, scores=shoe.scores, sizes=run_text(shoe.sizes))


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
        **{score: score_text(value) for score, value in scores.items()},
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
