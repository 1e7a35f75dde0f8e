"""What the outcomes' page shows, worded and rounded, so that the template only places it; and the same as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from core.domain.figures import grouped
from core.web import display
from core.web.display import NO_BREAK, number
from fittings.domain.disclosure.hiding import SMALL_CELL
from fittings.domain.outcomes.rates import Rate
from fittings.presentation.fitting.drawings import CurveDrawing, CurvePoint, curve_drawing
from fittings.presentation.outcomes.outcome_drawings import Interval, IntervalDrawing, interval_drawing
from fittings.presentation.outcomes.outcome_statements import LossLine, Statement, comparison_statements, loss_line
from fittings.selectors.outcomes.courses import MARK_WEEKS
from fittings.selectors.outcomes.outcome_groups import Group, Reading
from fittings.selectors.outcomes.outcomes import Outcomes

HIDDEN = "hidden"
CURVES_MOST = 5
"""More curves than this cannot be distinguished; the largest groups are drawn and all are in the tables."""


@dataclass(frozen=True, slots=True)
class GroupLine:
    """One row of the outcomes."""

    name: str
    people: str
    answered: str
    lost: str
    at_risk: str
    recurrences: str
    km: str
    rate: str


@dataclass(frozen=True, slots=True)
class CurveRow:
    """The curves read off after some weeks, a cell a group."""

    weeks: int
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class OutcomesPage:
    stores: str
    groups: tuple[GroupLine, ...]
    total: GroupLine
    n: str
    statements: tuple[Statement, ...]
    losses: tuple[LossLine, ...]
    rates: IntervalDrawing | None
    curve: CurveDrawing | None
    curve_names: tuple[str, ...]
    curve_rows: tuple[CurveRow, ...]
    hides: bool


def outcomes_page(outcomes: Outcomes, units: str) -> OutcomesPage:
    shown = [group for group in outcomes.groups if group.readings and group.at_risk != 0]
    return OutcomesPage(
        stores=display.listed(outcomes.stores),
        groups=tuple(group_line(group, units) for group in outcomes.groups),
        total=group_line(outcomes.total, units),
        n=n_words(outcomes.total),
        statements=comparison_statements(outcomes),
        losses=tuple(line for line in map(loss_line, (*outcomes.groups, outcomes.total)) if line is not None),
        rates=_rates(outcomes.groups),
        curve=_curve(shown, hides=outcomes.hides),
        curve_names=tuple(group.name for group in shown),
        curve_rows=tuple(
            CurveRow(weeks, tuple((group.name, _curve_cell(group, index)) for group in shown))
            for index, weeks in enumerate(MARK_WEEKS)
        ),
        hides=outcomes.hides,
    )


def count_words(value: int | None) -> str:
    return HIDDEN if value is None else grouped(value)


def n_words(total: Group) -> str:
    """How many people a figure is based on, how many were at risk and how many were lost."""
    if total.people is None and total.at_risk is None and total.lost is None:
        return "How many people these figures are based on is hidden, because a count is small"
    return (
        f"n = {count_words(total.people)} people who chose a shoe, {count_words(total.at_risk)} of them at risk, "
        f"{count_words(total.lost)} lost to follow-up"
    )


def group_line(group: Group, units: str) -> GroupLine:
    return GroupLine(
        name=group.name,
        people=count_words(group.people),
        answered=count_words(group.answered),
        lost=count_words(group.lost),
        at_risk=count_words(group.at_risk),
        recurrences=count_words(group.recurrences),
        km=HIDDEN if group.km is None else display.measure(group.km, "distance", units),
        rate=HIDDEN if group.rate is None else _rate_words(group.rate),
    )


def _rate_words(rate: Rate) -> str:
    if rate.per_1000_km is None:
        return "no distance known"
    return f"{number(rate.per_1000_km, 2)} ({number(rate.low, 2)} to {number(rate.high, 2)})"


def _rates(groups: Sequence[Group]) -> IntervalDrawing | None:
    rows = [
        Interval(group.name, group.rate.per_1000_km, group.rate.low or 0.0, group.rate.high or 0.0)
        for group in groups
        if group.rate is not None and group.rate.per_1000_km is not None
    ]
    title = "Recurrences per 1000 km with 95 % intervals; the numbers are in the table above"
    return interval_drawing(rows, axis="Recurrences per 1000 km", title=title)


def _curve(groups: Sequence[Group], *, hides: bool) -> CurveDrawing | None:
    largest = sorted(groups, key=lambda group: -(group.at_risk or 0))[:CURVES_MOST]
    drawn = [(group.name, _points(group, hides=hides)) for group in groups if group in largest]
    drawn = [(name, points) for name, points in drawn if points]
    return curve_drawing(drawn) if drawn else None


def _points(group: Group, *, hides: bool) -> list[CurvePoint]:
    """From the start, at which all are free, as far as five are watched; of hidden counts only what the table shows."""
    points = [
        CurvePoint(weeks, reading.share, reading.low, reading.high, reading.at_risk)
        for weeks, reading in zip(MARK_WEEKS, group.readings, strict=True)
        if reading is not None and _is_drawn(group, reading)
    ]
    return points if hides or not points else [CurvePoint(0.0, 1.0, 1.0, 1.0, group.begun), *points]


def _is_drawn(group: Group, reading: Reading) -> bool:
    return (reading.at_risk or 0) >= min(SMALL_CELL, group.at_risk or 1)


def _is_nobody(reading: Reading) -> bool:
    """Nobody is watched any more, and not because everybody had a recurrence."""
    return reading.at_risk == 0 and reading.share > 0


def _curve_cell(group: Group, index: int) -> str:
    reading = group.readings[index]
    if reading is None:
        return HIDDEN
    if _is_nobody(reading):
        return "nobody was followed that long"
    band = f" ({number(100 * reading.low, 0)} to {number(100 * reading.high, 0)})"
    return f"{number(100 * reading.share, 0)}{NO_BREAK}%{band}, {count_words(reading.at_risk)} complaints at risk"


def curve_figure(outcomes: Outcomes) -> dict[str, Any]:
    """The curves for a closer look: weeks, shares, limits and how many were at risk."""
    traces = []
    for group in outcomes.groups:
        points = _points(group, hides=outcomes.hides) if group.readings and group.at_risk != 0 else []
        if not points:
            continue
        traces.append(
            {
                "name": group.name,
                "kind": "curve",
                "x": [point.weeks for point in points],
                **{
                    key: [round(100 * getattr(point, name), 3) for point in points]
                    for key, name in (("y", "share"), ("low", "low"), ("high", "high"))
                },
                "text": [f"{count_words(point.at_risk)} at risk" for point in points],
            }
        )
    figure = {"x": "Weeks at risk", "y": "Free of recurrence, %", "range": [0, 103], "traces": traces}
    return {"curve": figure} if traces else {}


GROUP_COLUMNS = (
    "group",
    "people",
    "answered",
    "lost",
    "at_risk",
    "recurrences",
    "distance_km",
    "per_1000_km",
    "per_1000_km_low",
    "per_1000_km_high",
    "left_out",
    "at_risk_without_distance",
    "follow_ups",
    "follow_ups_left_open",
    "loss_weeks",
    "loss_complaints",
    *(
        f"free_{name}{end}"
        for name in ("best_case", "worst_case", "weighted_for_loss")
        for end in ("", "_low", "_high")
    ),
)


def group_rows(outcomes: Outcomes) -> list[list[Any]]:
    """The table of the groups as CSV: unrounded; hidden values say so."""
    rows = []
    for group in (*outcomes.groups, outcomes.total):
        counts = [group.people, group.answered, group.lost, group.at_risk, group.recurrences, group.km]
        rate = group.rate
        rates = [None] * 3 if rate is None else [rate.per_1000_km, rate.low, rate.high]
        hidden = HIDDEN if rate is None else ""
        rows.append(
            [group.name]
            + [HIDDEN if value is None else value for value in counts]
            + [hidden if value is None else value for value in rates]
            + [HIDDEN if value is None else value for value in _left_out(group)]
            + _loss(group, hides=outcomes.hides)
        )
    return rows


def _loss(group: Group, *, hides: bool) -> list[Any]:
    """Share free of recurrence if complaints of people lost all stayed away, all came back, and weighted instead."""
    loss = group.loss
    if loss is None:
        return [HIDDEN if hides else ""] * 11
    shares = [end for share in (loss.best, loss.worst, loss.weighted) for end in (share.value, share.low, share.high)]
    return [loss.weeks, HIDDEN if loss.lost is None else loss.lost, *("" if end is None else end for end in shares)]


def _left_out(group: Group) -> list[int | None]:
    people = None if None in group.left_out else sum(count or 0 for count in group.left_out)
    return [people, group.without_km, group.visits, group.visits_open]


CURVE_COLUMNS = ("group", "weeks", "at_risk", "recurrences", "free_of_recurrence", "low", "high")


def curve_csv_rows(outcomes: Outcomes) -> list[list[Any]]:
    """The curves as CSV, a row a follow-up, as far as somebody is watched; of hidden counts what the table shows."""
    return [
        [
            group.name,
            weeks,
            HIDDEN if item.at_risk is None else item.at_risk,
            HIDDEN if outcomes.hides else item.events,
            *(item.share, item.low, item.high),
        ]
        for group in outcomes.groups
        if group.readings
        for weeks, item in zip(MARK_WEEKS, group.readings, strict=True)
        if item is not None and not _is_nobody(item)
    ]
