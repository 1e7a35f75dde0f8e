"""What the check pages show: charts with their limits, points in words, the state of a rig."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from core.web import display
from labtests.domain.studies.check_chart import CHECKS_A_YEAR, FALSE_ALARMS, NOTICED_WITHIN, CheckChart
from labtests.domain.studies.control_chart import MIN_POINTS, RULE_WORDS, Limits, RunRule
from labtests.forms.quantities import DEFLECTION, TORQUE, Quantity
from labtests.models import CheckAlarm, CheckQuantity
from labtests.presentation.plots import Plot, plot_of
from labtests.selectors.studies.check_shoes import CheckPoint, CheckSeries, CheckStatus

SHOWN_POINTS = 60
"""The newest points that are drawn and listed; the chart itself covers all of them."""
QUANTITIES: dict[str, Quantity] = {CheckQuantity.TORQUE: TORQUE, CheckQuantity.DEFLECTION: DEFLECTION}


@dataclass(frozen=True, slots=True)
class CheckRow:
    """One point in the table."""

    number: int
    test: int
    on: str
    operator: str
    value: str
    sigmas: str
    word: str
    css: str
    why: str


@dataclass(frozen=True, slots=True)
class ChartSheet:
    """The chart of one quantity: in words, drawn, and as a table, newest point first."""

    key: str
    title: str
    state: str
    css: str
    words: str
    facts: tuple[tuple[str, str], ...]
    plot: Plot | None
    rows: tuple[CheckRow, ...]
    n: int
    n_shown: int


@dataclass(frozen=True, slots=True)
class StatusLine:
    """The state of a rig, in words."""

    code: str
    name: str
    specimen: str
    state: str
    css: str
    last: str
    reminders: tuple[str, ...]


def status_line(status: CheckStatus) -> StatusLine:
    duty = status.duty
    state, css = "in use", "state--good"
    if status.rig.is_stopped:
        state, css = "stopped", "state--stop"
    elif duty is None:
        state, css = "no check shoe", "state--wait"
    elif status.days_without:
        state, css = "check missing", "state--wait"
    return StatusLine(
        code=status.rig.code,
        name=status.rig.name,
        specimen=duty.specimen.code if duty else "",
        state=state,
        css=css,
        last=display.moment(status.last_check) if status.last_check else "never",
        reminders=tuple(reminders(status)),
    )


def reminders(status: CheckStatus) -> list[str]:
    """What somebody at the rig has to know."""
    if status.duty is None:
        return ["No check shoe is on duty, so nothing would show that this rig drifts."]
    code, sentences = status.duty.specimen.code, []
    if status.days_without:
        days = display.listed([display.day(day) for day in status.days_without])
        sentences.append(f"Tests were made without a check on {days}.")
    if not status.is_checked_today:
        sentences.append(f"Not checked today: test {code} before the first shoe.")
    return sentences


def false_alarm_words() -> str:
    """How often a rig that is in order is stopped all the same."""
    few, many = FALSE_ALARMS.one_in_twenty_below, FALSE_ALARMS.one_in_twenty_above
    return (
        f"A rig that is in order raises about {FALSE_ALARMS.half_below} false alarms in a year of {CHECKS_A_YEAR} "
        f"checks, both charts together (9 of 10 rigs: {few} to {many}), because the limits come from 20 points only: "
        "look for a cause before adjusting anything."
    )


def chart_sheet(series: CheckSeries, system: str, names: Mapping[str, str]) -> ChartSheet:
    """Draw a chart; `names` are the operators' by their sign-in names."""
    quantity = QUANTITIES[series.quantity]
    chart = series.chart
    state, css = _state(chart)
    first = max(0, len(series.points) - SHOWN_POINTS)
    shown = series.points[first:]
    return ChartSheet(
        key=quantity.key,
        title=quantity.label.capitalize(),
        state=state,
        css=css,
        words=_words(chart, quantity, system),
        facts=_facts(chart.limits, quantity, system),
        plot=_plot(series, first, quantity, system) if shown else None,
        rows=tuple(_row(series, first + place, quantity, system, names) for place in reversed(range(len(shown)))),
        n=len(series.points),
        n_shown=len(shown),
    )


def _state(chart: CheckChart) -> tuple[str, str]:
    if chart.is_in_control is None:
        return "no limits yet", "state--wait"
    return ("in control", "state--good") if chart.is_in_control else ("out of control", "state--stop")


def _words(chart: CheckChart, quantity: Quantity, system: str) -> str:
    if chart.limits is None:
        return f"{display.count(chart.points_missing, 'more check')} and there are limits to judge by."
    if not chart.breaches:
        trial = " The limits are trial limits until there are 20 points." if chart.limits.is_trial else ""
        sigma, checks = quantity.shown(chart.limits.sigma, system, more=1), NOTICED_WITHIN[1.0]
        could_find = f"A sudden change by {sigma} (1σ) would be noticed within {checks} checks in 8 of 10 cases"
        return (
            f"No rule is broken.{trial} {could_find}, by 2σ within {NOTICED_WITHIN[2.0]}; smaller ones can be missed."
        )
    newest = chart.breaches[-1]
    return f"{newest.words.capitalize()}: {RULE_WORDS[newest.rule]}."


def _facts(limits: Limits | None, quantity: Quantity, system: str) -> tuple[tuple[str, str], ...]:
    if limits is None:
        return ()
    kind = "Trial limits from" if limits.is_trial else "Limits held from"
    return (
        (kind, f"{limits.n} points"),
        ("Lower limit", quantity.shown(limits.lower, system)),
        ("Centre", quantity.shown(limits.centre, system)),
        ("Upper limit", quantity.shown(limits.upper, system)),
        ("σ by moving range", quantity.shown(limits.sigma, system, more=1)),
    )


def _flags(chart: CheckChart) -> dict[int, list[RunRule]]:
    found: dict[int, list[RunRule]] = {}
    for breach in chart.breaches:
        found.setdefault(breach.index, []).append(breach.rule)
    return found


def _row(series: CheckSeries, place: int, quantity: Quantity, system: str, names: Mapping[str, str]) -> CheckRow:
    point, limits = series.points[place], series.chart.limits_at[place]
    rules = _flags(series.chart).get(place, [])
    word, css = "no limits yet", "state--off"
    if point.is_cleared:
        word = "cleared"
    elif rules:
        word, css = "breaks a rule", "state--stop"
    elif limits is not None:
        word, css = "in control", "state--good"
    return CheckRow(
        number=place + 1,
        test=point.test,
        on=display.moment(point.performed_at),
        operator=names.get(point.operator, point.operator),
        value=quantity.shown(point.value, system),
        sigmas=_sigmas(point, limits),
        word=word,
        css=css,
        why="; ".join(RULE_WORDS[rule] for rule in rules),
    )


def _sigmas(point: CheckPoint, limits: Limits | None) -> str:
    if limits is None or limits.sigma == 0.0:
        return display.MISSING
    return display.signed((point.value - limits.centre) / limits.sigma)


def _plot(series: CheckSeries, first: int, quantity: Quantity, system: str) -> Plot:
    factor = quantity.scale(system)
    points, limits_at = series.points[first:], series.chart.limits_at[first:]
    edges = [edge for limits in limits_at if limits is not None for edge in (limits.lower, limits.upper)]
    values = [point.value * factor for point in points] + [edge * factor for edge in edges]
    numbers = [first + 1, first + max(len(points), MIN_POINTS)]
    plot = plot_of(f"Check chart of {quantity.label}", ("check", quantity.axis(system)), numbers, values)
    for name, label in (("upper", "upper limit"), ("centre", "centre"), ("lower", "lower limit")):
        for stretch in _stretches(limits_at, name, factor, first):
            css = "plot__quiet" if name == "centre" else "plot__limit"
            plot.line(stretch, label, css=css, label="" if name == "centre" else label)
    counted = [(first + place + 1, p.value * factor) for place, p in enumerate(points) if not p.is_cleared]
    if len(counted) > 1:
        plot.line(counted, "checks in order", css="plot__quiet")
    flagged = _flags(series.chart)
    for place, point in enumerate(points):
        css = "dot dot--off" if point.is_cleared else "dot dot--out" if first + place in flagged else "dot"
        title = f"check {first + place + 1}, {display.day(point.performed_at)}: {quantity.shown(point.value, system)}"
        plot.mark(first + place + 1, point.value * factor, title, css=css)
    return plot


def _stretches(
    limits_at: Sequence[Limits | None], name: str, factor: float, first: int
) -> list[list[tuple[float, float]]]:
    """Where a limit runs without a break; cleared points have none, and it goes on behind them."""
    known = [(first + place + 1, limits) for place, limits in enumerate(limits_at) if limits is not None]
    line = [(float(number), float(getattr(limits, name)) * factor) for number, limits in known]
    return [line] if len(line) > 1 else []


@dataclass(frozen=True, slots=True)
class AlarmLine:
    """One alarm in the list."""

    at: str
    words: str
    test: int
    state: str
    css: str
    cleared: str


def alarm_line(alarm: CheckAlarm) -> AlarmLine:
    if alarm.cleared_at is None or alarm.cleared_by is None:
        return AlarmLine(display.moment(alarm.raised_at), alarm.words, alarm.test_id, "open", "state--stop", "")
    cleared = f"{alarm.cleared_by.display_name}, {display.moment(alarm.cleared_at)}: {alarm.cleared_because}"
    return AlarmLine(display.moment(alarm.raised_at), alarm.words, alarm.test_id, "cleared", "state--off", cleared)
