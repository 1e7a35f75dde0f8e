"""What the outcomes' page shows, worded and rounded, so that the template only places it; and the same as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from core.web import display
from core.web.display import NO_BREAK, number
from fittings.domain.outcomes.rates import Comparison, Estimate, Rate
from fittings.domain.outcomes.survival import median_time
from fittings.presentation.drawings import CurveDrawing, curve_drawing
from fittings.presentation.outcome_drawings import Interval, IntervalDrawing, interval_drawing
from fittings.selectors.outcomes import MARK_WEEKS, Group, Outcomes

HIDDEN = "hidden"
CURVES_MOST = 5
"""More curves than this cannot be distinguished; the largest groups are drawn and all are in the tables."""

TOO_FEW = "too few recurrences to say (fewer than 10 in a group)"


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
    half: str


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
    ratio: str
    difference: str
    test: str
    rates: IntervalDrawing | None
    curve: CurveDrawing | None
    curve_names: tuple[str, ...]
    curve_rows: tuple[CurveRow, ...]
    hides: bool


def outcomes_page(outcomes: Outcomes, units: str) -> OutcomesPage:
    shown = [group for group in outcomes.groups if group.curve is not None and group.curve.n > 0]
    return OutcomesPage(
        stores=display.listed(outcomes.stores),
        groups=tuple(group_line(group, units) for group in outcomes.groups),
        total=group_line(outcomes.total, units),
        n=n_words(outcomes.total),
        ratio=_comparison_words(outcomes.comparison, "ratio"),
        difference=_comparison_words(outcomes.comparison, "difference"),
        test=_test_words(outcomes),
        rates=_rates(outcomes.groups),
        curve=_curve(shown),
        curve_names=tuple(group.name for group in shown),
        curve_rows=tuple(
            CurveRow(weeks, tuple((group.name, _curve_cell(group, index)) for group in shown))
            for index, weeks in enumerate(MARK_WEEKS)
        ),
        hides=outcomes.hides,
    )


def count_words(value: int | None) -> str:
    return HIDDEN if value is None else f"{value:,}".replace(",", NO_BREAK)


def n_words(total: Group) -> str:
    """How many people a figure is based on, how many were at risk and how many were lost."""
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
        half=_half_words(group),
    )


def _half_words(group: Group) -> str:
    """Median time, or that more than half never had a recurrence while watched."""
    if group.curve is None:
        return HIDDEN
    median = median_time(group.curve)
    return "not reached" if median is None else f"{number(median, 0)} weeks"


def _rate_words(rate: Rate) -> str:
    if rate.per_1000_km is None:
        return "no distance known"
    return f"{number(rate.per_1000_km, 2)} ({number(rate.low, 2)} to {number(rate.high, 2)})"


def _comparison_words(comparison: Comparison | None, which: str) -> str:
    if comparison is None:
        return "hidden, because a count is small"
    estimate: Estimate = comparison.ratio if which == "ratio" else comparison.difference
    if comparison.too_few:
        return TOO_FEW
    if estimate.value is None:
        return estimate.note
    if which == "difference":
        value, low, high = (number(100 * (part or 0.0)) for part in (estimate.value, estimate.low, estimate.high))
        return f"{value} percentage points (95 % interval {low} to {high}; {estimate.method})"
    low, high = number(estimate.low, 2), number(estimate.high, 2)
    return f"{number(estimate.value, 2)} (95 % interval {low} to {high}; {estimate.method})"


def _test_words(outcomes: Outcomes) -> str:
    if outcomes.test is None:
        return "hidden, because a count is small" if outcomes.hides else "nothing to compare"
    if any((group.recurrences or 0) < 10 for group in outcomes.groups):
        return TOO_FEW
    if outcomes.test.chi_squared is None or outcomes.test.p is None:
        return "nothing to compare"
    freedom = display.count(outcomes.test.degrees, "degree", "degrees")
    return f"χ² {number(outcomes.test.chi_squared, 2)} with {freedom} of freedom, {p_words(outcomes.test.p)}"


def p_words(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {p:.3f}"


def _rates(groups: Sequence[Group]) -> IntervalDrawing | None:
    rows = [
        Interval(group.name, group.rate.per_1000_km, group.rate.low or 0.0, group.rate.high or 0.0)
        for group in groups
        if group.rate is not None and group.rate.per_1000_km is not None
    ]
    title = "Recurrences per 1000 km with exact Poisson 95 % intervals; the numbers are in the table above"
    return interval_drawing(rows, axis="Recurrences per 1000 km", title=title)


def _curve(groups: Sequence[Group]) -> CurveDrawing | None:
    largest = sorted(groups, key=lambda group: -(group.at_risk or 0))[:CURVES_MOST]
    drawn = [(group.name, group.curve, group.watched_weeks) for group in groups if group in largest and group.curve]
    return curve_drawing(drawn) if drawn else None


def _curve_cell(group: Group, index: int) -> str:
    reading = group.readings[index]
    if reading is None:
        return HIDDEN
    if reading.at_risk == 0:
        return "nobody watched so long"
    low, high = reading.low, reading.high
    band = "" if low != low else f" ({number(100 * low, 0)} to {number(100 * high, 0)})"
    return f"{number(100 * reading.share, 0)}{NO_BREAK}%{band}, {count_words(reading.at_risk)} at risk"


def curve_figure(outcomes: Outcomes) -> dict[str, Any]:
    """The curves for a closer look: times, shares, limits and how many were at risk."""
    traces = []
    for group in outcomes.groups:
        curve = group.curve
        if curve is None or curve.n == 0:
            continue
        kept = curve.time <= group.watched_weeks
        parts = {
            name: [None if value != value else round(100 * value, 3) for value in getattr(curve, name)[kept].tolist()]
            for name in ("survival", "low", "high")
        }
        traces.append(
            {
                "name": group.name,
                "kind": "step",
                "x": [0.0, *(round(time, 3) for time in curve.time[kept].tolist()), round(group.watched_weeks, 3)],
                "y": _to_the_end([100.0, *parts["survival"]]),
                "low": _to_the_end([100.0, *parts["low"]]),
                "high": _to_the_end([100.0, *parts["high"]]),
                "text": [f"{at_risk:.0f} at risk" for at_risk in [curve.n, *curve.at_risk[kept].tolist()]],
            }
        )
    figure = {"x": "Weeks at risk", "y": "Free of recurrence, %", "range": [0, 103], "traces": traces}
    return {"curve": figure} if traces else {}


def _to_the_end(values: list[Any]) -> list[Any]:
    """The last step goes on as long as people are watched."""
    return [*values, values[-1]]


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
        )
    return rows


def _left_out(group: Group) -> list[int | None]:
    people = None if None in group.left_out else sum(count or 0 for count in group.left_out)
    return [people, group.without_km, group.visits, group.visits_open]


CURVE_COLUMNS = ("group", "weeks", "at_risk", "events", "free_of_recurrence", "standard_error", "low", "high")


def curve_csv_rows(outcomes: Outcomes) -> list[list[Any]]:
    """The curves as CSV, a row a step, as far as they are drawn."""
    rows: list[list[Any]] = []
    for group in outcomes.groups:
        curve = group.curve
        if curve is None:
            continue
        columns = (curve.time, curve.at_risk, curve.events, curve.survival, curve.standard_error, curve.low, curve.high)
        steps = zip(*(column.tolist() for column in columns), strict=True)
        rows += [
            [group.name, *("" if value != value else value for value in step)]
            for step in steps
            if step[0] <= group.watched_weeks
        ]
    return rows
