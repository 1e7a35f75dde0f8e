"""The grid of a store's stock: a row a shoe, a cell a size, and what is wrong with a cell."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.forms.stock import CellProblem, seen_text
from catalogue.presentation.addresses import shoe_url
from catalogue.presentation.wall_cards import card_note
from catalogue.selectors.stock.walls import WallShoe
from catalogue.services import Overtaken
from core.web import display


@dataclass(frozen=True, slots=True)
class Note:
    """Why a cell could not be saved."""

    words: str
    is_overtaken: bool


Place = tuple[int, Decimal]
Notes = Mapping[Place, Note]


@dataclass(frozen=True, slots=True)
class GridCell:
    """One size of a shoe: the name of its field, its label, what is written in it."""

    name: str
    label: str
    size: str
    text: str
    is_marked: bool


@dataclass(frozen=True, slots=True)
class GridRow:
    """A shoe: what its cells held when the page was made comes back with it."""

    shoe: WallShoe
    url: str
    seen_name: str
    seen: str
    pairs: int
    cells: tuple[GridCell, ...]
    card: str
    card_state: str


@dataclass(frozen=True, slots=True)
class Grid:
    sizes: tuple[str, ...]
    rows: tuple[GridRow, ...]


@dataclass(frozen=True, slots=True)
class NoteLine:
    """A note with the address of its cell on the page."""

    anchor: str
    words: str


def _name(shoe: int, size: Decimal) -> str:
    return f"c-{shoe}-{size:.1f}"


def _row(
    shoe: WallShoe, sizes: Sequence[Decimal], held: Mapping[Decimal, int], texts: Mapping[Place, str], notes: Notes
) -> GridRow:
    shown = {size: held.get(size) for size in sizes}
    cells = tuple(
        GridCell(
            name=_name(shoe.id, size),
            label=f"{shoe.title}, {display.size(size)}",
            size=display.size(size),
            text=texts.get((shoe.id, size), "" if pairs is None else str(pairs)),
            is_marked=(shoe.id, size) in notes,
        )
        for size, pairs in shown.items()
    )
    words, state = card_note(shoe)
    return GridRow(
        shoe=shoe,
        url=shoe_url(shoe.slug) if shoe.is_published else "",
        seen_name=f"seen-{shoe.id}",
        seen=seen_text(shown),
        pairs=sum(held.values()),
        cells=cells,
        card=words,
        card_state=state,
    )


def grid(
    shoes: Sequence[WallShoe],
    sizes: Sequence[Decimal],
    stock: Mapping[int, Mapping[Decimal, int]],
    *,
    texts: Mapping[Place, str],
    notes: Notes,
) -> Grid:
    """Lay out the stock of some shoes.

    Parameters
    ----------
    texts : what was written into cells before, where a page is shown again
    notes : what is wrong with which cell
    """
    rows = tuple(_row(shoe, sizes, stock.get(shoe.id, {}), texts, notes) for shoe in shoes)
    return Grid(tuple(display.bare_size(size) for size in sizes), rows)


def notes_of_problems(problems: Iterable[CellProblem]) -> Notes:
    return {(found.shoe, found.size_eu): Note(found.problem, is_overtaken=False) for found in problems}


def _pairs(quantity: int | None) -> str:
    return "nothing was entered" if quantity is None else str(quantity)


def notes_of_overtaken(cells: Iterable[Overtaken]) -> Notes:
    """Say what the cell had, what it has now, and what was to be saved."""
    return {
        (cell.shoe, cell.size_eu): Note(
            f"you saw {_pairs(cell.seen)}, somebody has made it {_pairs(cell.now)} since; you wrote {cell.wanted}.",
            is_overtaken=True,
        )
        for cell in cells
    }


def is_overtaken(notes: Notes) -> bool:
    return any(note.is_overtaken for note in notes.values())


def note_lines(shoes: Sequence[WallShoe], notes: Notes) -> list[NoteLine]:
    titles = {shoe.id: shoe.title for shoe in shoes}
    return [
        NoteLine(f"#{_name(shoe, size)}", f"{titles.get(shoe, '')}, {display.size(size)}: {note.words}")
        for (shoe, size), note in notes.items()
    ]
