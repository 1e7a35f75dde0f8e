"""Agreement of two fitters in words, as intervals and as tables."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from core.web.display import NO_BREAK, count, number
from fittings.domain.disclosure.hiding import SMALL_CELL, hide_cells
from fittings.domain.outcomes.agreement import Kappa
from fittings.domain.outcomes.comparisons import exact_share
from fittings.presentation.outcomes.outcome_drawings import Interval, IntervalDrawing, interval_drawing
from fittings.presentation.outcomes.outcomes import HIDDEN, count_words
from fittings.presentation.outcomes.risk_model import interval_figure
from fittings.selectors.outcomes.agreement import PEOPLE_LEAST, Agreement, LookAgreement

COLUMNS = ("observation", "first_fitter", "second_fitter", "people", "n", "kappa", "low", "high")


@dataclass(frozen=True, slots=True)
class AgreementLine:
    """One observation: n, kappa with its interval, how often both gave the same grade, and the table behind."""

    name: str
    n: str
    kappa: str
    interval: str
    same: str
    sentence: str
    grades: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class AgreementPage:
    lines: tuple[AgreementLine, ...]
    drawing: IntervalDrawing | None
    figures: dict[str, Any]
    hides: bool


def agreement_page(agreements: Sequence[Agreement], *, hides: bool) -> AgreementPage:
    intervals = [
        Interval(item.name, item.kappa.kappa, item.kappa.low or 0.0, item.kappa.high or 0.0)
        for item in agreements
        if item.kappa is not None and item.kappa.kappa is not None
    ]
    title = "Weighted kappa with 95 % intervals; the numbers are in the table below"
    return AgreementPage(
        lines=tuple(_line(item, hides=hides) for item in agreements),
        drawing=interval_drawing(intervals, axis="Weighted kappa", title=title, reference=0.0),
        figures=interval_figure(intervals, axis="Weighted kappa"),
        hides=hides,
    )


def _line(item: Agreement, *, hides: bool) -> AgreementLine:
    kappa, interval, same = "too few to say", "", ""
    if item.kappa is not None:
        estimate = item.kappa
        kappa = "all grades the same, nothing to compare" if estimate.kappa is None else number(estimate.kappa, 2)
        interval = "" if estimate.kappa is None else f"{number(estimate.low, 2)} to {number(estimate.high, 2)}"
        same = _same(item, hides=hides)
    rows = zip(item.grades, _cells(item, hides=hides), strict=True)
    return AgreementLine(
        name=item.name,
        n=HIDDEN if hides and item.n < PEOPLE_LEAST else count_words(item.n),
        kappa=kappa,
        interval=interval,
        same=same,
        sentence=_sentence(item, hides=hides),
        grades=item.grades,
        rows=tuple((grade, tuple(count_words(value) for value in cells)) for grade, cells in rows),
    )


@dataclass(frozen=True, slots=True)
class LookLines:
    """One kind of look with a line for each sign."""

    label: str
    lines: tuple[AgreementLine, ...]


def look_lines(items: Sequence[LookAgreement], *, hides: bool) -> tuple[LookLines, ...]:
    """The kinds of look that anybody was seen in twice."""
    return tuple(
        LookLines(f"{item.label[:1].upper()}{item.label[1:]}", tuple(_line(sign, hides=hides) for sign in item.signs))
        for item in items
        if item.n
    )


def _sentence(item: Agreement, *, hides: bool) -> str:
    """The table in plain words; none for too few people, or where small counts are hidden."""
    if item.kappa is None or hides:
        return ""
    gaps = [
        (second - first, people)
        for first, cells in enumerate(item.table)
        for second, people in enumerate(cells)
        if people
    ]
    alike, one = (sum(people for gap, people in gaps if abs(gap) == size) for size in (0, 1))
    higher, lower = (sum(people for gap, people in gaps if gap * way > 0) for way in (1, -1))
    words = f"Of {item.n} people, {alike} got the same grade from both fitters and {one} were one grade apart"
    further = item.n - alike - one
    words += f"; {further} were further apart" if further else ""
    if higher == lower:
        return f"{words}. Neither fitter grades higher than the other overall."
    return f"{words}. The second fitter graded higher {count(higher, 'time')} and lower {count(lower, 'time')}."


def _same(item: Agreement, *, hides: bool) -> str:
    """How many of 100 people got the same grade from both, with its exact limits."""
    alike = sum(item.table[grade][grade] for grade in range(len(item.grades)))
    if hides and min(alike, item.n - alike) < SMALL_CELL:
        return HIDDEN
    share = exact_share(alike, item.n)
    if share.value is None or share.low is None or share.high is None:
        return share.note
    value, low, high = (number(100 * part, 0) for part in (share.value, share.low, share.high))
    return f"{value}{NO_BREAK}% ({low} to {high})"


def _cells(item: Agreement, *, hides: bool) -> Sequence[Sequence[int | None]]:
    return hide_cells(item.table) if hides else item.table


def _kappa_cells(estimate: Kappa, *, hides: bool) -> list[Any]:
    """Unrounded, but where pages of all stores could be set against each other."""
    values = (estimate.kappa, estimate.low, estimate.high)
    return [None if value is None else round(value, 2) if hides else value for value in values]


def csv_rows(agreements: Sequence[Agreement], *, hides: bool, looks: Sequence[LookAgreement] = ()) -> list[list[Any]]:
    """The observation, and then the other looks that anybody was seen in twice."""
    others = [replace(sign, name=f"{sign.name}, {item.label}") for item in looks if item.n for sign in item.signs]
    rows: list[list[Any]] = []
    for item in (*agreements, *others):
        n = HIDDEN if hides and item.n < PEOPLE_LEAST else item.n
        kappa = [""] * 3 if item.kappa is None else _kappa_cells(item.kappa, hides=hides)
        for first, cells in zip(item.grades, _cells(item, hides=hides), strict=True):
            for second, people in zip(item.grades, cells, strict=True):
                rows.append([item.name, first, second, HIDDEN if people is None else people, n, *kappa])
    return rows
