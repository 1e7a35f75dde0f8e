"""Shoes as CSV: one row a shoe, each cell read by its column, every mistake named by row and column.

Decimal points and commas are both read. Several widths, names, prices or barcodes in a cell are separated by `|`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import partial
from typing import Any

from django.conf import settings

from catalogue.domain.gtin import full_gtin
from catalogue.domain.sizes import EU
from catalogue.domain.sizes_in_files import read_system, size_in
from catalogue.models import EU_SIZE_MAX, EU_SIZE_MIN, Use, Wearer
from catalogue.services.csv_file import (
    PROBLEMS_MOST,
    SHOWN_MOST,
    FileProblem,
    FileRejected,
    refuse,
    separator_of,
    table_of,
    text_of,
)
from catalogue.services.records.shoe_rules import Barcode
from core.domain.figures import grouped
from core.domain.quoting import quoted

ROWS_MOST = 1_000
SEVERAL_MOST = 20
NOTE_MOST = 2_000
REQUIRED = ("brand", "name")
_SIZE = re.compile(r"(?:EU\s*)?(\d{1,2}(?:[.,]\d)?)", re.ASCII | re.IGNORECASE)
_SLUG = re.compile(r"[-a-z0-9_]{1,80}", re.ASCII)


@dataclass(frozen=True, slots=True)
class ShoeLine:
    """One row of a file: the brand by its name or address, the previous version by its address, the rest as values."""

    row: int
    brand: str
    previous: str
    details: Mapping[str, Any]
    barcodes: tuple[Barcode, ...]

    @property
    def title(self) -> str:
        return f"{self.brand} {self.details['name']} {self.details.get('version', '')}".rstrip()


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the file: how a cell is read (ValueError with a sentence where it can't be), and what to write."""

    read: Callable[[str], Any]
    hint: str


def _text(most: int) -> Callable[[str], str]:
    def read(text: str) -> str:
        if len(text) > most:
            raise ValueError(f"{quoted(text)} has {len(text)} characters; at most {most} are stored.")
        return text

    return read


def _number(text: str) -> float:
    read = re.fullmatch(r"-?\d{1,9}(?:[.,]\d{1,9})?", text, re.ASCII)
    if read is None:
        raise ValueError(f"{quoted(text)} is not a number. Write the number alone, without a unit.")
    return float(text.replace(",", "."))


def _size(text: str, system: str = EU) -> Decimal:
    if system != EU:
        return size_in(text, system)
    read = _SIZE.fullmatch(text)
    size = Decimal(read[1].replace(",", ".")) if read else Decimal(0)
    if not EU_SIZE_MIN <= size <= EU_SIZE_MAX:
        raise ValueError(f"{quoted(text)} is not an EU size from {EU_SIZE_MIN} to {EU_SIZE_MAX}, such as 42.5.")
    return size


def _choice(choices: Sequence[tuple[str, str]]) -> Callable[[str], str]:
    known = {word.casefold(): value for value, label in choices for word in (value, label)}

    def read(text: str) -> str:
        if text.casefold() not in known:
            raise ValueError(f"{quoted(text)} is not known. Write {', '.join(value for value, _ in choices)}.")
        return known[text.casefold()]

    return read


def _yes_no(text: str) -> bool:
    if text.casefold() not in ("yes", "no"):
        raise ValueError(f"{quoted(text)} is not known. Write yes or no, or leave the cell empty.")
    return text.casefold() == "yes"


def _slug(text: str) -> str:
    if _SLUG.fullmatch(text) is None:
        raise ValueError(f"{quoted(text)} is not an address. Use lower-case letters, digits and hyphens.")
    return text


def _several(text: str) -> list[str]:
    parts = [part.strip() for part in text.split("|") if part.strip()]
    if len(parts) > SEVERAL_MOST:
        raise ValueError(f"There are {len(parts)} entries in this cell; at most {SEVERAL_MOST} are stored.")
    return parts


def _prices(text: str) -> dict[str, str]:
    prices: dict[str, str] = {}
    for part in _several(text):
        read = re.fullmatch(r"(?:([A-Za-z]{3})\s*)?(\d{1,7}(?:[.,]\d{1,2})?)", part, re.ASCII)
        if read is None:
            raise ValueError(f"{quoted(part)} is not a price. Write 149.90, or EUR 149.90 | USD 165.")
        currency = (read[1] or settings.CURRENCY).upper()
        if currency in prices:
            raise ValueError(f"There are two prices in {currency}. Remove one of them.")
        prices[currency] = read[2].replace(",", ".")
    return prices


def _barcodes(text: str, system: str = EU) -> tuple[Barcode, ...]:
    barcodes: dict[str, Barcode] = {}
    for part in filter(None, (part.strip() for part in text.split("|"))):
        label, equals, number = part.partition("=")
        size, _, width = label.partition("/")
        if not equals:
            raise ValueError(f"{quoted(part)} is not a size with its barcode. Write 42=… or, with a width, 42/2E=….")
        gtin = full_gtin(number)
        if gtin in barcodes:
            raise ValueError(f"The barcode {quoted(number)} is in this cell twice. Remove one of them.")
        barcodes[gtin] = Barcode(gtin, _size(size.strip(), system), width.strip())
    return tuple(barcodes.values())


COLUMNS: Mapping[str, Column] = {
    "brand": Column(_text(60), "its name; a brand that is not in the catalogue is added"),
    "name": Column(_text(80), "without brand and version"),
    "version": Column(_text(20), "such as 12; empty where there is none"),
    "use": Column(_choice(Use.choices), "running, walking or standing; running where it is empty"),
    "wearer": Column(_choice(Wearer.choices), "all, men, women or children; all where it is empty"),
    "widths": Column(_several, "such as D | 2E"),
    "size_system": Column(read_system, "of all sizes in the row: EU, UK, US men, US women or mm; EU where it is empty"),
    "smallest_size_eu": Column(_size, "such as 36"),
    "largest_size_eu": Column(_size, "such as 48.5"),
    "stated_size_eu": Column(_size, "the size that mass and stack heights hold for"),
    "mass_g": Column(_number, "of one shoe, in grams"),
    "stack_heel_mm": Column(_number, "in millimetres"),
    "stack_forefoot_mm": Column(_number, "in millimetres"),
    "removable_insole": Column(_yes_no, "yes or no; empty where it is not known"),
    "season": Column(_text(30), "as the maker calls it"),
    "list_prices": Column(_prices, "such as 149.90, or with currencies EUR 149.90 | USD 165"),
    "is_discontinued": Column(_yes_no, "yes or no; no where it is empty"),
    "previous": Column(_slug, "the address of the version before, in the catalogue or in a row above"),
    "alternative_names": Column(_several, "other names to search for, separated by |"),
    "note": Column(_text(NOTE_MOST), "for staff; visitors do not see it"),
    "slug": Column(_slug, "the last part of the page’s address; made from the names where it is empty"),
    "barcodes": Column(_barcodes, "by size, and width where there are several: 42=… | 42.5/2E=…"),
}
"""The columns of the file, in the order of the template. Only brand and name must be there."""


def rows_of(data: bytes) -> list[tuple[int, dict[str, str]]]:
    """Split a file into rows: the row's number in the file, counted from 1, and its cells that are not empty.

    Raises
    ------
    FileRejected
        Where the file is no CSV in UTF-8, has columns that are not known, or too many rows.
    """
    text = text_of(data).replace("\r\n", "\n").replace("\r", "\n")
    header = text.split("\n", 1)[0]
    names = [name.strip().casefold() for name in next(csv.reader([header], delimiter=separator_of(header)), [])]
    _check_header(names)
    table = table_of(text)
    if len(table) - 1 > ROWS_MOST:
        raise refuse(
            ROWS_MOST + 2, "file", f"At most {grouped(ROWS_MOST)} shoes are read at once. Send the file in parts."
        )
    rows = [
        (index + 1, {name: cell.strip() for name, cell in zip(names, cells, strict=False) if name and cell.strip()})
        for index, *cells in table.iloc[1:].itertuples(name=None)
    ]
    filled = [(row, cells) for row, cells in rows if cells]
    if not filled:
        raise refuse(2, "file", "There is no shoe below the header.")
    return filled


def _check_header(names: Sequence[str]) -> None:
    problems = [
        FileProblem(1, name, f"There is no column “{name}”. The first row must name it.")
        for name in REQUIRED
        if name not in names
    ]
    problems += [
        FileProblem(1, name[:SHOWN_MOST], f"The column {quoted(name)} is not known. Leave it out, or see the template.")
        for name in names
        if name and name not in COLUMNS
    ]
    problems += [
        FileProblem(1, name, f"The column {quoted(name)} appears twice. Remove one of them.")
        for name in COLUMNS
        if names.count(name) > 1
    ]
    if problems:
        raise FileRejected(problems[:PROBLEMS_MOST])


def line_of(row: int, cells: Mapping[str, str]) -> tuple[ShoeLine | None, list[FileProblem]]:
    """Read the cells of a row; the shoe is without the cells that can't be read, None where brand or name is one."""
    values: dict[str, Any] = {}
    problems = [FileProblem(row, name, "This cell must not be empty.") for name in REQUIRED if name not in cells]
    system, readers = _system_of(cells), {name: COLUMNS[name].read for name in cells}
    readers |= {name: partial(read, system=system) for name, read in SIZED.items() if name in cells}
    for name, text in cells.items():
        try:
            values[name] = readers[name](text)
        except ValueError as problem:
            problems.append(FileProblem(row, name, str(problem)))
    if not values.keys() >= set(REQUIRED):
        return None, problems
    values.pop("size_system", None)
    apart = {name: values.pop(name, "") for name in ("brand", "previous", "barcodes")}
    return ShoeLine(row, apart["brand"], apart["previous"], values, apart["barcodes"] or ()), problems


SIZED: Mapping[str, Callable[..., Any]] = {
    "smallest_size_eu": _size,
    "largest_size_eu": _size,
    "stated_size_eu": _size,
    "barcodes": _barcodes,
}
"""The columns with sizes, which are read in the system of their row."""


def _system_of(cells: Mapping[str, str]) -> str:
    """The size system of a row; EU where it is empty, and where it can't be read, which is a problem of its own."""
    try:
        return read_system(cells.get("size_system", "EU"))
    except ValueError:
        return EU
