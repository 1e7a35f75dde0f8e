"""What a manager sends of the stock: edited cells of the grid, or a file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core import signing
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict

from catalogue.forms.wall_cards import WallFilterForm
from catalogue.models import EU_SIZE_MAX, EU_SIZE_MIN
from catalogue.selectors.stock.walls import HERE
from catalogue.services import StockCell
from catalogue.services.stock.count_file import BYTES_MOST, LINES_MOST, QUANTITY_MOST
from catalogue.services.stock.stock import CellPlace
from core.domain.errors import DomainError
from core.domain.figures import grouped

# Sizes side by side in the grid: as many as a wide screen shows.
SIZE_RUNS = (("15", "21.5"), ("22", "28.5"), ("29", "34.5"), ("35", "41.5"), ("42", "48.5"), ("49", "55"))
USUAL_RUN = "35"
ROWS_MOST = 300
NUMBER_MOST = 2**31
WIDTH_ENDS = "|"
STAGED_SALT = "catalogue.stock-count-by-width"
STAGED_SECONDS = 4 * 3600


def run_sizes(start: str) -> list[Decimal]:
    """Return the sizes of a run, in halves."""
    low, high = next((Decimal(low), Decimal(high)) for low, high in SIZE_RUNS if low == start)
    return [low + Decimal(step) / 2 for step in range(int((high - low) * 2) + 1)]


class StockFilterForm(WallFilterForm):
    usual = {"scope": HERE, "sizes": USUAL_RUN}
    sizes = forms.ChoiceField(
        label="Sizes", choices=[(low, f"EU {low} to {high}") for low, high in SIZE_RUNS], required=False
    )

    def run(self) -> str:
        self.is_valid()
        return self.cleaned_data.get("sizes") or USUAL_RUN


@dataclass(frozen=True, slots=True)
class CellProblem:
    """A cell that can't be taken as it was written."""

    shoe: int
    size_eu: Decimal
    width: str | None
    problem: str


@dataclass(frozen=True, slots=True)
class SentGrid:
    """The grid as it came back: shoes in order, the text of each cell, what was changed, what can't be read."""

    shoes: tuple[int, ...]
    texts: Mapping[CellPlace, str]
    cells: tuple[StockCell, ...]
    problems: tuple[CellProblem, ...]


def seen_text(cells: Mapping[Decimal, int | None], width: str | None = None) -> str:
    """Write what a row's cells held when the page was made, "42:3,42.5:,43:0", after its width, if it is of one."""
    texts = ",".join(f"{size:.1f}:{'' if quantity is None else quantity}" for size, quantity in cells.items())
    return texts if width is None else f"{width}{WIDTH_ENDS}{texts}"


def _seen(text: str) -> tuple[str | None, dict[Decimal, int | None]]:
    found: dict[Decimal, int | None] = {}
    width, ends, texts = text.rpartition(WIDTH_ENDS)
    for part in texts.split(",")[:100]:
        read = re.fullmatch(r"(\d{2}\.\d):(\d{0,5})", part, re.ASCII)
        if read is None or not EU_SIZE_MIN <= Decimal(read[1]) <= EU_SIZE_MAX:
            raise DomainError("The grid was damaged on its way back. Reload the page.", code="damaged_grid")
        found[Decimal(read[1])] = int(read[2]) if read[2] else None
    return width if ends else None, found


def _quantity(text: str) -> int:
    if not re.fullmatch(r"\d{1,6}", text, re.ASCII) or int(text) > QUANTITY_MOST:
        raise ValueError(f"“{text[:20]}” is not a whole number of pairs from 0 to {grouped(QUANTITY_MOST)}.")
    return int(text)


def _row_of(key: str) -> tuple[str, int] | None:
    """Return the name of a row in the names of its fields, and the number of its shoe."""
    found = re.fullmatch(r"seen-((\d{1,10})(?:-\d{1,2})?)", key, re.ASCII)
    return (found[1], int(found[2])) if found and int(found[2]) < NUMBER_MOST else None


def read_grid(data: QueryDict) -> SentGrid:
    """Read an edited grid and keep the cells that differ from what the page showed; an emptied one is sold out.

    Raises
    ------
    DomainError
        Where the page's own part of the grid came back damaged.
    """
    rows = [row for key in data if (row := _row_of(key)) is not None][:ROWS_MOST]
    texts: dict[CellPlace, str] = {}
    cells, problems = [], []
    for name, shoe in rows:
        width, shown = _seen(data.get(f"seen-{name}", ""))
        for size, seen in shown.items():
            text = data.get(f"c-{name}-{size:.1f}", "").strip()
            texts[shoe, size, width] = text[:20]
            try:
                quantity = _quantity(text) if text else None
            except ValueError as problem:
                problems.append(CellProblem(shoe, size, width, str(problem)))
                continue
            if quantity is None and seen:
                cells.append(StockCell(shoe, size, seen, 0, width))
            elif quantity is not None and quantity != seen:
                cells.append(StockCell(shoe, size, seen, quantity, width))
    shoes = dict.fromkeys(shoe for _, shoe in rows)
    return SentGrid(tuple(shoes), texts, tuple(cells), tuple(problems))


class StockFileForm(forms.Form):
    """A counted stock as a file."""

    file = forms.FileField(
        label="Stock file",
        help_text="CSV with the columns shoe, size, width (may be left out), quantity; "
        f"up to 1 MB and {grouped(LINES_MOST)} lines.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,text/csv"}),
    )
    is_whole = forms.BooleanField(
        label="This is the whole stock: sizes that are not in the file are sold out", required=False
    )

    def clean_file(self) -> UploadedFile[Any]:
        file: UploadedFile[Any] = self.cleaned_data["file"]
        size = file.size or 0
        if size > BYTES_MOST:
            raise forms.ValidationError(f"The file is larger than 1 MB ({grouped(size)} bytes). Send it in parts.")
        return file


def staged_text(store: str, cells: Sequence[StockCell]) -> str:
    """Write what a preview showed, signed, to come back with the confirmation."""
    rows = [[cell.shoe, str(cell.size_eu), cell.seen, cell.quantity, cell.width] for cell in cells]
    return signing.dumps({"store": store, "cells": rows}, salt=STAGED_SALT, compress=True)


def read_staged(text: str, store: str) -> list[StockCell]:
    """Read it again; it is refused where it was changed, is of another store, or is too old."""
    try:
        staged = signing.loads(text, salt=STAGED_SALT, max_age=STAGED_SECONDS)
    except signing.BadSignature as problem:
        raise DomainError(
            "This preview is too old or came back damaged. Send the file again.", code="stale_preview"
        ) from problem
    if staged["store"] != store:
        raise DomainError("This preview is of another store. Send the file again.", code="stale_preview")
    return [StockCell(shoe, Decimal(size), seen, pairs, width) for shoe, size, seen, pairs, width in staged["cells"]]
