"""Stock against what is published and what people needed, by band and size."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.presentation.addresses import shoe_url
from catalogue.selectors import BandRow
from catalogue.selectors.stock.demand import DemandCell
from catalogue.selectors.stock.walls import Absent, BandSize
from core.web import display

WORST_SHOWN = 12
HALF = Decimal("0.5")
HIDDEN = "under 5"


@dataclass(frozen=True, slots=True)
class GapCell:
    """One band in one size: shoes in stock, and fittings that needed it; `state` is "gap", "bare", "thin" or ""."""

    shoes: str
    needed: str
    state: str
    words: str


@dataclass(frozen=True, slots=True)
class GapRow:
    order: int
    name: str
    cells: tuple[GapCell, ...]


@dataclass(frozen=True, slots=True)
class GapMap:
    """Bands by sizes; without sizes there is neither stock nor demand."""

    sizes: tuple[str, ...]
    rows: tuple[GapRow, ...]


@dataclass(frozen=True, slots=True)
class BandGap:
    """A band: published shoes, how many of them are here, how many fittings needed it here and in all stores."""

    order: int
    name: str
    published: int
    here: int
    share: str
    own: int
    practice: str
    note: str


@dataclass(frozen=True, slots=True)
class WorstGap:
    """A band and size that was needed more often than there are pairs of it."""

    order: int
    band: str
    size: str
    needed: int
    practice: str
    pairs: int


@dataclass(frozen=True, slots=True)
class AbsentLine:
    title: str
    url: str
    order: int
    band: str
    stability: str
    stores: str


def _sizes(stock: Sequence[BandSize], wanted: Sequence[DemandCell]) -> list[Decimal]:
    """Return every half size from the smallest to the largest that is in stock or was needed."""
    found = {cell.size_eu for cell in stock} | {cell.size_eu for cell in wanted if cell.size_eu is not None}
    if not found:
        return []
    first, last = min(found), max(found)
    steps = {first + HALF * step for step in range(int((last - first) / HALF) + 1)}
    return sorted(found | steps)


def _cell(stock: BandSize | None, wanted: DemandCell | None, published: int) -> GapCell:
    shoes, pairs = (stock.shoes, stock.pairs) if stock else (0, 0)
    own = wanted.own if wanted else 0
    state = "" if shoes else "bare"
    if own and not shoes:
        state = "gap"
    elif own > pairs:
        state = "thin"
    words = f"{shoes} of {display.count(published, 'published shoe')}, {display.count(pairs, 'pair')}; "
    words += f"needed in {display.count(own, 'fitting')}" if own else "not needed in a fitting here"
    return GapCell(str(shoes) if shoes else "none", str(own) if own else "", state, words)


def gap_map(bands: Sequence[BandRow], stock: Sequence[BandSize], wanted: Sequence[DemandCell]) -> GapMap:
    """Set stock beside demand, a row a band, a column a size."""
    held = {(cell.band, cell.size_eu): cell for cell in stock}
    needed = {(cell.band, cell.size_eu): cell for cell in wanted}
    sizes = _sizes(stock, wanted)
    rows = tuple(
        GapRow(
            band.order,
            band.name,
            tuple(_cell(held.get((band.order, size)), needed.get((band.order, size)), band.shoes) for size in sizes),
        )
        for band in bands
    )
    return GapMap(tuple(display.bare_size(size) for size in sizes), rows)


def practice_text(cells: Sequence[DemandCell]) -> str:
    """Say how often all stores needed something; the parts that are hidden make it "at least"."""
    shown = sum(cell.practice or 0 for cell in cells)
    hidden = any(cell.practice is None for cell in cells)
    if not cells:
        return "0"
    return (f"at least {shown}" if shown else HIDDEN if len(cells) == 1 else "few") if hidden else str(shown)


def band_lines(bands: Sequence[BandRow], here: Mapping[int, int], wanted: Sequence[DemandCell]) -> list[BandGap]:
    """Say of every band how much of what is published is here, and how often it was needed."""
    lines = []
    for band in bands:
        cells = [cell for cell in wanted if cell.band == band.order]
        own, held = sum(cell.own for cell in cells), here.get(band.order, 0)
        note = ""
        if band.shoes and not held:
            note = "none on the wall" + (", though it was needed" if own else "")
        elif not band.shoes:
            note = "nothing published"
        lines.append(
            BandGap(
                order=band.order,
                name=band.name,
                published=band.shoes,
                here=held,
                share=display.percent(held / band.shoes) if band.shoes else display.MISSING,
                own=own,
                practice=practice_text(cells),
                note=note,
            )
        )
    return lines


def worst_gaps(bands: Sequence[BandRow], stock: Sequence[BandSize], wanted: Sequence[DemandCell]) -> list[WorstGap]:
    """Return the bands and sizes that were needed here more often than there are pairs, the worst first."""
    names = {band.order: band.name for band in bands}
    pairs = {(cell.band, cell.size_eu): cell.pairs for cell in stock}
    short = [
        (cell, pairs.get((cell.band, cell.size_eu), 0))
        for cell in wanted
        if cell.size_eu is not None and cell.own > pairs.get((cell.band, cell.size_eu), 0)
    ]
    short.sort(key=lambda found: (found[1] - found[0].own, found[0].band, found[0].size_eu))
    return [
        WorstGap(cell.band, names[cell.band], display.size(cell.size_eu), cell.own, practice_text([cell]), held)
        for cell, held in short[:WORST_SHOWN]
    ]


def demand_note(wanted: Sequence[DemandCell]) -> str:
    """Say what the demand rests on: how many fittings of this store, and how many of them have no size."""
    own = sum(cell.own for cell in wanted)
    if not own:
        return "No fitting of the last twelve months is on record here."
    unknown = sum(cell.own for cell in wanted if cell.size_eu is None)
    words = f"{display.count(own, 'fitting')} here in the last twelve months"
    return f"{words}, {unknown} of them without a size." if unknown else f"{words}, each with a size."


def absent_lines(absent: Sequence[Absent], bands: Sequence[BandRow]) -> list[AbsentLine]:
    names = {band.order: band.name for band in bands}
    return [
        AbsentLine(
            title=shoe.title,
            url=shoe_url(shoe.slug),
            order=shoe.band,
            band=names.get(shoe.band, ""),
            stability=display.number(shoe.stability),
            stores=display.count(shoe.stores, "other store") if shoe.stores else "no store",
        )
        for shoe in absent
    ]
