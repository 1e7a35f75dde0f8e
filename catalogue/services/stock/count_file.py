"""A store's stock as CSV: written for a spreadsheet, and read back as a spreadsheet may have saved it.

One line a shoe, size and width. Read with a byte order mark, semicolons or tabs, decimal commas; whatever can't be read
is named by line and column.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from types import MappingProxyType
from typing import TypeVar

from catalogue.domain.sizes import size_read
from catalogue.services.csv_file import (
    BYTES_MOST,
    PROBLEMS_MOST,
    SHOWN_MOST,
    FileProblem,
    FileRejected,
    inert,
    refuse,
    separator_of,
    table_of,
    text_of,
)
from core.domain.figures import grouped
from core.domain.quoting import quoted

__all__ = ["BYTES_MOST", "COLUMNS", "QUANTITY_MOST", "WIDTH", "CountLine", "CountRejected", "StockRow", "read", "write"]

CountRejected = FileRejected

COLUMNS = ("shoe", "size", "quantity")
# May be left out: a line then counts the size as a whole.
WIDTH = "width"
# Written for the reader, ignored when read.
IGNORED = ("name", "band")
LINES_MOST = 10_000
QUANTITY_MOST = 9_999
NO_WIDTHS: Mapping[str, Sequence[str]] = MappingProxyType({})
ValueT = TypeVar("ValueT")
_QUANTITY = re.compile(r"(\d{1,9})(?:[.,]0{1,3})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class CountLine:
    """How many pairs of a size of a shoe a file says; `converted_from` as `ReadSize` has it.

    `width` is None where the file has no such column, and empty where its cell is.
    """

    shoe: str
    size_eu: Decimal
    quantity: int
    converted_from: str = ""
    width: str | None = None


@dataclass(frozen=True, slots=True)
class StockRow:
    """One line of a stock file as it is written."""

    shoe: str
    name: str
    band: str
    size_eu: Decimal
    quantity: int
    width: str = ""


def write(rows: Sequence[StockRow]) -> bytes:
    """Write stock lines as CSV in UTF-8, with the mark that spreadsheets know UTF-8 by."""
    import pandas as pd

    table = pd.DataFrame(
        {
            "shoe": [row.shoe for row in rows],
            "name": [inert(row.name) for row in rows],
            "band": [inert(row.band) for row in rows],
            "size": [f"{row.size_eu:.1f}" for row in rows],
            WIDTH: [inert(row.width) for row in rows],
            "quantity": [row.quantity for row in rows],
        }
    )
    return table.to_csv(index=False, lineterminator="\r\n").encode("utf-8-sig")


def _places(header: Sequence[str]) -> Mapping[str, int]:
    """Return where each column that is read is, or say what the header should be."""
    names = [name.strip().casefold() for name in header]
    problems = [
        FileProblem(1, name, f"There is no column “{name}”. The first line must name {', '.join(COLUMNS)}.")
        for name in COLUMNS
        if name not in names
    ]
    problems += [
        FileProblem(1, name, f"The column {quoted(name)} appears twice. Remove one of them.")
        for name in (*COLUMNS, WIDTH)
        if names.count(name) > 1
    ]
    problems += [
        FileProblem(1, name[:SHOWN_MOST], f"The column {quoted(name)} is not known. Leave it out.")
        for name in names
        if name and name not in (*COLUMNS, WIDTH, *IGNORED)
    ][:PROBLEMS_MOST]
    if problems:
        raise CountRejected(problems[:PROBLEMS_MOST])
    return {name: names.index(name) for name in (*COLUMNS, WIDTH) if name in names}


def _quantity(text: str) -> int:
    if re.fullmatch(r"[-−]\s*[\d.,]+", text):
        raise ValueError(f"{quoted(text)} is negative. The fewest pairs are 0.")
    found = _QUANTITY.fullmatch(text)
    if found is None:
        raise ValueError(f"{quoted(text)} is not a whole number of pairs.")
    if int(found[1]) > QUANTITY_MOST:
        raise ValueError(f"{quoted(text)} is too many. The most pairs are {grouped(QUANTITY_MOST)}.")
    return int(found[1])


def _width(offered: Sequence[str], text: str) -> str:
    """Return a width spelt as the shoe has it."""
    known = {width.casefold(): width for width in offered}
    # As `inert` writes one that a spreadsheet would take for a formula.
    found = known.get(text.removeprefix("'").casefold())
    if found is None:
        comes = f"The shoe comes in {', '.join(offered)}." if offered else "No width fittings are stated for the shoe."
        raise ValueError(
            f"{quoted(text)} is not a width of this shoe. {comes} Leave the cell empty if it is not known."
        )
    return found


class _Reader:
    """Reads line after line and collects what is wrong."""

    def __init__(self, known: frozenset[str], widths: Mapping[str, Sequence[str]]) -> None:
        self.known = known
        self.widths = widths
        self.problems: list[FileProblem] = []
        self.first: dict[tuple[str, Decimal, str | None], int] = {}
        self.lines: list[CountLine] = []

    def refuse(self, line: int, column: str, problem: str) -> None:
        if len(self.problems) < PROBLEMS_MOST:
            self.problems.append(FileProblem(line, column, problem))

    def take(self, line: int, shoe: str, size: str, quantity: str, width: str | None = None) -> None:
        before = len(self.problems)
        if shoe not in self.known:
            self.refuse(
                line,
                "shoe",
                f"There is no shoe {quoted(shoe)}. Write the last part of its page’s address, or have the lab or head "
                "office add the shoe.",
            )
        read = self._read(line, "size", size_read, size)
        pairs = self._read(line, "quantity", _quantity, quantity)
        fitting = self._read(line, WIDTH, partial(_width, self.widths.get(shoe, ())), width) if width else width
        if len(self.problems) > before or read is None or pairs is None:
            return
        key = (shoe, read.eu, fitting)
        earlier = self.first.setdefault(key, line)
        if earlier != line:
            what = "size" if width is None else "size and width"
            self.refuse(line, "size", f"This {what} of {quoted(shoe)} is on line {earlier} too. Keep one of them.")
            return
        self.lines.append(CountLine(shoe, read.eu, pairs, read.converted_from, fitting))

    def _read(self, line: int, column: str, convert: Callable[[str], ValueT], text: str) -> ValueT | None:
        try:
            return convert(text)
        except ValueError as problem:
            self.refuse(line, column, str(problem))
            return None


def read(
    data: bytes, known: frozenset[str], *, widths: Mapping[str, Sequence[str]] = NO_WIDTHS
) -> tuple[CountLine, ...]:
    """Read a stock count.

    Parameters
    ----------
    data : the file
    known : short names of the shoes there are
    widths : the width fittings of those that have any

    Raises
    ------
    CountRejected
        With up to 50 problems by line and column. A file with any is refused whole.
    """
    text = text_of(data).replace("\r\n", "\n").replace("\r", "\n")
    header = text.split("\n", 1)[0]
    places = _places(next(csv.reader([header], delimiter=separator_of(header)), []))
    table = table_of(text)
    if len(table) - 1 > LINES_MOST:
        raise refuse(LINES_MOST + 2, "file", f"At most {grouped(LINES_MOST)} lines are read. Send the file in parts.")
    reader = _Reader(known, widths)
    chosen = table.iloc[1:, list(places.values())]
    blank = (table.iloc[1:].apply(lambda column: column.str.strip()) == "").all(axis=1)
    for (index, *cells), is_blank in zip(chosen.itertuples(name=None), blank, strict=True):
        if not is_blank:
            reader.take(index + 1, *(cell.strip() for cell in cells))
    if reader.problems:
        raise CountRejected(reader.problems)
    if not reader.lines:
        raise refuse(2, "file", "There is no line below the header.")
    return tuple(reader.lines)
