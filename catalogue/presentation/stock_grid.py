"""The grid of a store's stock: a row a shoe, a cell a size, and what is wrong with a cell."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from catalogue.domain.ordering import UNKNOWN_WIDTH
from catalogue.forms.stock import CellProblem, seen_text
from catalogue.presentation.addresses import shoe_url
from catalogue.presentation.wall_cards import card_note
from catalogue.selectors.stock.walls import WallShoe
from catalogue.services import Overtaken
from catalogue.services.stock.stock import CellPlace
from core.web import display


@dataclass(frozen=True, slots=True)
class Note:
    """Why a cell could not be saved."""

    words: str
    is_overtaken: bool


Notes = Mapping[CellPlace, Note]


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
    """A shoe, or one width of it: what its cells held when the page was made comes back with it.

    `is_first` is the row that shows what is said of the shoe as a whole.
    """

    shoe: WallShoe
    width: str
    is_first: bool
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


@dataclass(frozen=True, slots=True)
class StockRow:
    """The pairs of a shoe by size; `number` distinguishes the rows of a shoe that has several widths."""

    shoe: WallShoe
    width: str | None
    number: int
    held: Mapping[Decimal, int]

    @property
    def name(self) -> str:
        return str(self.shoe.id) if self.width is None else f"{self.shoe.id}-{self.number}"

    @property
    def width_words(self) -> str:
        return "" if self.width is None else f"width {self.width}" if self.width else "width not known"

    @property
    def title(self) -> str:
        return f"{self.shoe.title}, {self.width_words}" if self.width_words else self.shoe.title


def stock_rows(
    shoes: Sequence[WallShoe], lines: Mapping[tuple[int, Decimal, str], int], widths: Mapping[int, Sequence[str]]
) -> list[StockRow]:
    """Return a row a shoe, or one a width where a shoe has several, pairs of unknown width last.

    Parameters
    ----------
    lines : pairs by shoe, size and width
    widths : the width fittings of shoes
    """
    held: dict[int, dict[str, dict[Decimal, int]]] = defaultdict(lambda: defaultdict(dict))
    whole: dict[int, Counter[Decimal]] = defaultdict(Counter)
    for (shoe, size, width), pairs in lines.items():
        held[shoe][width][size] = pairs
        whole[shoe][size] += pairs
    rows = []
    for each in shoes:
        of_shoe = held[each.id]
        offered = dict.fromkeys([*widths.get(each.id, ()), *sorted(width for width in of_shoe if width)])
        if len(offered) < 2:
            rows.append(StockRow(each, None, 0, whole[each.id]))
        else:
            rows += [StockRow(each, one, n, of_shoe[one]) for n, one in enumerate([*offered, UNKNOWN_WIDTH])]
    return rows


def _row(row: StockRow, sizes: Sequence[Decimal], texts: Mapping[CellPlace, str], notes: Notes) -> GridRow:
    shoe, held = row.shoe, row.held
    shown = {size: held.get(size) for size in sizes}
    cells = tuple(
        GridCell(
            name=f"c-{row.name}-{size:.1f}",
            label=f"{row.title}, {display.size(size)}",
            size=display.size(size),
            text=texts.get((shoe.id, size, row.width), "" if pairs is None else str(pairs)),
            is_marked=(shoe.id, size, row.width) in notes,
        )
        for size, pairs in shown.items()
    )
    words, state = card_note(shoe)
    return GridRow(
        shoe=shoe,
        width=row.width_words,
        is_first=row.number == 0,
        url=shoe_url(shoe.slug) if shoe.is_published else "",
        seen_name=f"seen-{row.name}",
        seen=seen_text(shown, row.width),
        pairs=sum(held.values()),
        cells=cells,
        card=words,
        card_state=state,
    )


def grid(stock: Sequence[StockRow], sizes: Sequence[Decimal], *, texts: Mapping[CellPlace, str], notes: Notes) -> Grid:
    """Lay out the stock of some shoes.

    Parameters
    ----------
    texts : what was written into cells before, where a page is shown again
    notes : what is wrong with which cell
    """
    rows = tuple(_row(row, sizes, texts, notes) for row in stock)
    return Grid(tuple(display.bare_size(size) for size in sizes), rows)


def notes_of_problems(problems: Iterable[CellProblem]) -> Notes:
    return {(found.shoe, found.size_eu, found.width): Note(found.problem, is_overtaken=False) for found in problems}


def _pairs(quantity: int | None) -> str:
    return "empty" if quantity is None else str(quantity)


def notes_of_overtaken(cells: Iterable[Overtaken]) -> Notes:
    """Say what the cell had, what it has now, and what was to be saved."""
    return {
        (cell.shoe, cell.size_eu, cell.width): Note(
            f"it was {_pairs(cell.seen)} when you opened the page and is {_pairs(cell.now)} now; you entered "
            f"{cell.wanted}.",
            is_overtaken=True,
        )
        for cell in cells
    }


def is_overtaken(notes: Notes) -> bool:
    return any(note.is_overtaken for note in notes.values())


def note_lines(stock: Sequence[StockRow], notes: Notes) -> list[NoteLine]:
    rows = {(row.shoe.id, row.width): row for row in stock}
    return [
        NoteLine(f"#c-{row.name}-{size:.1f}", f"{row.title}, {display.size(size)}: {note.words}")
        for (shoe, size, width), note in notes.items()
        if (row := rows.get((shoe, width)))
    ]
