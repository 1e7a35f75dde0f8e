"""Demand against stock and shoes in use, in words, as drawings and as CSV."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from catalogue.selectors import BandRow
from core.web import display
from core.web.display import bare_size, number, signed
from fittings.domain.disclosure.hiding import SMALL_CELL, hide_cells
from fittings.presentation.outcomes.outcome_drawings import (
    BarDrawing,
    Interval,
    IntervalDrawing,
    bar_drawing,
    interval_drawing,
)
from fittings.presentation.outcomes.outcomes import HIDDEN, count_words
from fittings.presentation.outcomes.risk_model import interval_figure
from fittings.selectors.outcomes.demand import SIZES_TOGETHER, DemandCell
from fittings.selectors.outcomes.shoes_in_use import PEOPLE_LEAST, Against, ShoeInUse

DEMAND_COLUMNS = ("band", "size_eu", "targets", "pairs_in_stock")
SHOE_COLUMNS = ("shoe", "band", "measure", "people", "raw", "drawn_in", "low", "high", "worse")


@dataclass(frozen=True, slots=True)
class DemandRow:
    """One size, or a few: for each band how many targets and how many pairs."""

    size: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class DemandPage:
    since: str
    n: str
    bands: tuple[str, ...]
    rows: tuple[DemandRow, ...]
    totals: tuple[tuple[str, str], ...]
    short: tuple[str, ...]
    drawing: BarDrawing | None
    figures: dict[str, Any]
    hides: bool


def demand_page(cells: Sequence[DemandCell], bands: Sequence[BandRow], *, since: dt.date, hides: bool) -> DemandPage:
    table = _Demand(cells, bands, hides=hides)
    rows = tuple(
        DemandRow(
            f"EU{display.NO_BREAK}{size}",
            tuple(_cell(name, *pair) for name, pair in zip(table.names, row, strict=True)),
        )
        for size, row in zip(table.sizes, table.rows, strict=True)
    )
    people = sum(cell.targets for cell in cells)
    return DemandPage(
        since=display.day(since),
        n=f"n = {count_words(None if hides and people < SMALL_CELL else people)} targets with a size, nobody lost",
        bands=table.names,
        rows=rows,
        totals=tuple(_cell(name, *pair) for name, pair in zip(table.names, table.totals, strict=True)),
        short=table.short(),
        drawing=_demand_drawing(table),
        figures=_demand_figure(table),
        hides=hides,
    )


class _Demand:
    """The cells as a table of sizes by bands.

    Where stores are added up small numbers of people are hidden. By half sizes most would be small, so two whole sizes
    are shown together there.
    """

    def __init__(self, cells: Sequence[DemandCell], bands: Sequence[BandRow], *, hides: bool) -> None:
        orders = [band.order for band in bands]
        self.names = tuple(band.name for band in bands)
        step = SIZES_TOGETHER if hides else None
        targets_of, pairs_of = Counter[tuple[Decimal, int]](), Counter[tuple[Decimal, int]]()
        for cell in cells:
            place = (cell.size_eu // step * step if step else cell.size_eu), cell.band
            targets_of[place] += cell.targets
            pairs_of[place] += cell.pairs
        sizes = sorted({size for size, _ in targets_of})
        self.sizes = [_size_words(size, step) for size in sizes]
        targets = [[targets_of[size, order] for order in orders] for size in sizes]
        pairs = [[pairs_of[size, order] for order in orders] for size in sizes]
        shown: Sequence[Sequence[int | None]] = hide_cells(targets) if hides else targets
        self.rows = [list(zip(*both, strict=True)) for both in zip(shown, pairs, strict=True)]
        places = range(len(orders))
        sums = [(sum(row[at] for row in targets), sum(row[at] for row in pairs)) for at in places]
        self.totals = [(None if hides and people < SMALL_CELL else people, held) for people, held in sums]

    def short(self) -> tuple[str, ...]:
        """Where most targets meet least stock: five places at most, those with nothing in stock first."""
        wanted = [
            (targets, pairs, f"{name}, EU {size}")
            for size, row in zip(self.sizes, self.rows, strict=True)
            for name, (targets, pairs) in zip(self.names, row, strict=True)
            if targets is not None and targets > pairs
        ]
        ordered = sorted(wanted, key=lambda item: (item[1] > 0, item[1] - item[0]))
        return tuple(
            f"{words}: {targets} targets, {display.count(pairs, 'pair')}" for targets, pairs, words in ordered[:5]
        )


def _size_words(size: Decimal, step: int | None) -> str:
    return bare_size(size) if step is None else f"{bare_size(size)} to under {bare_size(size + step)}"


def _cell(name: str, targets: int | None, pairs: int) -> tuple[str, str]:
    return name, f"{count_words(targets)} / {count_words(pairs)}"


def _demand_drawing(table: _Demand) -> BarDrawing | None:
    series = [
        ("targets", [float(targets or 0) for targets, _ in table.totals]),
        ("pairs in stock", [float(pairs) for _, pairs in table.totals]),
    ]
    return bar_drawing(
        table.names, series, title="Targets and pairs in stock by band; the numbers are in the table below"
    )


def _demand_figure(table: _Demand) -> dict[str, Any]:
    if not table.rows:
        return {}
    names = list(table.names)
    traces = [
        {"name": "targets", "kind": "bar", "x": names, "y": [targets for targets, _ in table.totals]},
        {"name": "pairs in stock", "kind": "bar", "x": names, "y": [pairs for _, pairs in table.totals]},
    ]
    return {"demand": {"x": "Band", "y": "Count", "traces": traces}}


def demand_csv_rows(cells: Sequence[DemandCell], bands: Sequence[BandRow], *, hides: bool) -> list[list[Any]]:
    table = _Demand(cells, bands, hides=hides)
    return [
        [name, size, HIDDEN if targets is None else targets, pairs]
        for size, row in zip(table.sizes, table.rows, strict=True)
        for name, (targets, pairs) in zip(table.names, row, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class ShoeInUseLine:
    slug: str
    title: str
    band: str
    comfort: str
    comfort_n: str
    recurrence: str
    recurrence_n: str
    verdict: str
    worse: bool


@dataclass(frozen=True, slots=True)
class ShoesPage:
    lines: tuple[ShoeInUseLine, ...]
    worse: int
    least: int
    comfort: IntervalDrawing | None
    figures: dict[str, Any]


def shoes_page(shoes: Sequence[ShoeInUse]) -> ShoesPage:
    ordered = sorted(shoes, key=lambda shoe: (not shoe.worse, shoe.band, shoe.comfort.shrunk if shoe.comfort else 0.0))
    intervals = [
        Interval(shoe.title, shoe.comfort.shrunk, shoe.comfort.low, shoe.comfort.high)
        for shoe in ordered
        if shoe.comfort and shoe.comfort.low < shoe.comfort.high
    ]
    axis = "Comfort against the band, points of 10"
    title = "Comfort of each shoe against its band, drawn in, with 95 % intervals; the numbers are in the table below"
    return ShoesPage(
        lines=tuple(_shoe_line(shoe) for shoe in ordered),
        worse=sum(shoe.worse for shoe in ordered),
        least=PEOPLE_LEAST,
        comfort=interval_drawing(intervals, axis=axis, title=title, reference=0.0),
        figures=interval_figure(intervals, axis=axis),
    )


def _shoe_line(shoe: ShoeInUse) -> ShoeInUseLine:
    said = [
        words
        for words, item in (("less comfort", shoe.comfort), ("more recurrences", shoe.recurrence))
        if item is not None and item.worse
    ]
    return ShoeInUseLine(
        slug=shoe.slug,
        title=shoe.title,
        band=shoe.band_name,
        comfort=_against(shoe.comfort, by_ratio=False),
        comfort_n=_people(shoe.comfort),
        recurrence=_against(shoe.recurrence, by_ratio=True),
        recurrence_n=_people(shoe.recurrence),
        verdict=f"{' and '.join(said)} than its band" if said else "no worse than chance allows",
        worse=shoe.worse,
    )


def _people(item: Against | None) -> str:
    return f"under {PEOPLE_LEAST}" if item is None else count_words(item.people)


def _against(item: Against | None, *, by_ratio: bool) -> str:
    if item is None:
        return "too few to say"
    if item.low == item.high:
        return "no different from its band beyond chance"
    if by_ratio:
        return f"× {number(item.shrunk, 2)} ({number(item.low, 2)} to {number(item.high, 2)})"
    return f"{signed(item.shrunk, 1)} ({signed(item.low, 1)} to {signed(item.high, 1)})"


def shoe_csv_rows(shoes: Sequence[ShoeInUse]) -> list[list[Any]]:
    rows: list[list[Any]] = []
    for shoe in shoes:
        for measure, item in (("comfort_difference", shoe.comfort), ("recurrence_ratio", shoe.recurrence)):
            if item is not None:
                values = [item.people, item.raw, item.shrunk, item.low, item.high, "yes" if item.worse else "no"]
                rows.append([shoe.slug, shoe.band_name, measure, *values])
    return rows
