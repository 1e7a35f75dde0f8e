"""The climate of chambers in words and as a drawing beside the stays."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from django.utils import timezone

from core.domain.figures import figure, grouped
from core.domain.units import FloatArray, from_si
from core.web import display
from labtests.domain.conditions.climate import ClimateSeries, StayClimate
from labtests.domain.conditions.conditioning import Stay
from labtests.domain.scores.protocol import Limit
from labtests.models import ClimateLog
from labtests.presentation.drawings import BOTTOM, HEIGHT, LEFT, MOST_POINTS, RIGHT, TOP, WIDTH, Line, Tick
from labtests.presentation.plots import tick_labels
from labtests.selectors.bench.climate import ShownClimate

NOT_SHOWN = "climate not shown"
# Hours that count as all of them: a logger's interval is missing at either end.
WHOLE_H = 2.0
TICKS = 5
UNITS = {"metric": ("degC", "°C"), "imperial": ("degF", "°F")}


@dataclass(frozen=True, slots=True)
class Box:
    """A stay in a chamber as a bar along the axis of time."""

    x: float
    width: float
    name: str


@dataclass(frozen=True, slots=True)
class TimeTick:
    """A mark on the axis of time: where, and in two lines the day and the time."""

    at: float
    day: str
    time: str


@dataclass(frozen=True, slots=True)
class ClimateDrawing:
    """Temperature or humidity over time, with the accepted range where there is one, and the stays."""

    quantity: str
    label: str
    lines: tuple[Line, ...]
    boxes: tuple[Box, ...]
    limits: tuple[Tick, ...]
    x_ticks: tuple[TimeTick, ...]
    y_ticks: tuple[Tick, ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM


@dataclass(frozen=True, slots=True)
class ClimateLine:
    """A log in a list."""

    pk: int
    name: str
    period: str
    imported: str
    state: str
    css: str


def climate_words(found: StayClimate | None) -> str:
    """What is known of the climate of a test's stays: "climate not shown" where no logger's file covers them."""
    if found is None:
        return f"{NOT_SHOWN}: the conditioning is not from the log"
    if found.covered_h <= 0.0:
        return f"{NOT_SHOWN}: no logger file of the chamber covers the conditioning"
    part = (
        "" if found.stayed_h - found.covered_h <= WHOLE_H else f" for {found.covered_h:.1f} of {found.stayed_h:.1f} h"
    )
    if found.excursions:
        return (
            f"climate known{part}, with {display.count(len(found.excursions), 'excursion')} out of the accepted range"
        )
    return f"climate known{part}, always within the accepted range"


def climate_drawings(shown: ShownClimate, limit: Limit, system: str) -> tuple[ClimateDrawing, ...]:
    """Draw what the loggers say beside the stays: temperature, and humidity where it was logged; none without a log."""
    if not shown.stays:
        return ()
    frame = _Frame(min(stay.in_at for stay in shown.stays), shown.until, shown.stays)
    drawn = (_temperature(shown.logs, frame, (limit.low, limit.high), system), _humidity(shown.logs, frame))
    return tuple(one for one in drawn if one is not None)


def log_drawings(log: ClimateLog, system: str) -> tuple[ClimateDrawing, ...]:
    """Draw all of a log."""
    frame = _Frame(log.first_at, log.last_at, ())
    series = (log.to_domain(),)
    drawn = (_temperature(series, frame, (), system), _humidity(series, frame))
    return tuple(one for one in drawn if one is not None)


@dataclass(frozen=True, slots=True)
class _Frame:
    """The time that is drawn, and the stays in it."""

    begin: dt.datetime
    until: dt.datetime
    stays: tuple[Stay, ...]


def _temperature(
    logs: Sequence[ClimateSeries], frame: _Frame, ends: Sequence[float | None], system: str
) -> ClimateDrawing | None:
    unit, sign = UNITS[system]
    clipped = [_clipped(log.times, log.temperatures_c, frame) for log in logs]
    series = [(times, from_si(values, unit, quantity="temperature")) for times, values in clipped]
    limits = [from_si(end, unit, quantity="temperature") for end in ends if end is not None]
    return _drawing(("temperature", sign, "curve--loading"), series, frame, limits)


def _humidity(logs: Sequence[ClimateSeries], frame: _Frame) -> ClimateDrawing | None:
    """Relative humidity, where it was logged. No protocol limits it, so it is shown for information only."""
    series = [_clipped(log.times, log.humidities, frame) for log in logs if log.humidities.size]
    return _drawing(("relative humidity", "%", "curve--unloading"), series, frame, [])


def _drawing(
    what: tuple[str, str, str], series: Sequence[tuple[FloatArray, FloatArray]], frame: _Frame, limits: Sequence[float]
) -> ClimateDrawing | None:
    name, sign, css = what
    series = [(times, values) for times, values in series if times.size]
    if not series:
        return None
    y_ticks = _steps([*limits, *(float(f(values)) for _, values in series for f in (np.min, np.max))])
    to_x, to_y = _scales(frame.begin, frame.until, y_ticks)
    return ClimateDrawing(
        quantity=name,
        label=f"{name}, {sign}",
        lines=tuple(Line(_points(to_x(times), to_y(values)), name, css) for times, values in series),
        boxes=tuple(
            _box(f"chamber {stay.chamber}", to_x, stay.in_at, min(stay.out_at or frame.until, frame.until))
            for stay in frame.stays
        ),
        limits=tuple(Tick(round(float(to_y(end)), 1), f"{figure(end, 4)} {sign}") for end in limits),
        x_ticks=_time_ticks(frame.begin, frame.until, to_x),
        y_ticks=tuple(
            Tick(round(float(to_y(value)), 1), label)
            for value, label in zip(y_ticks, tick_labels(y_ticks), strict=True)
        ),
    )


Scale = Callable[[FloatArray | float], FloatArray]


def _clipped(times: FloatArray, values: FloatArray, frame: _Frame) -> tuple[FloatArray, FloatArray]:
    """The readings inside the frame, those that the logger missed left out."""
    inside = (times >= frame.begin.timestamp()) & (times <= frame.until.timestamp()) & np.isfinite(values)
    return times[inside], values[inside]


def _scales(begin: dt.datetime, end: dt.datetime, y_ticks: Sequence[float]) -> tuple[Scale, Scale]:
    start, span = begin.timestamp(), max((end - begin).total_seconds(), 1.0)

    def to_x(time: FloatArray | float) -> FloatArray:
        return LEFT + (np.asarray(time) - start) / span * (WIDTH - LEFT - RIGHT)

    def to_y(value: FloatArray | float) -> FloatArray:
        return HEIGHT - BOTTOM - (np.asarray(value) - y_ticks[0]) / (y_ticks[-1] - y_ticks[0]) * (HEIGHT - TOP - BOTTOM)

    return to_x, to_y


def _points(x: FloatArray, y: FloatArray) -> str:
    """Points of a line, thinned so that the highest and the lowest of each part remain."""
    parts = np.array_split(np.arange(x.size), min(x.size, MOST_POINTS // 2))
    places = sorted({int(part[f(y[part])]) for part in parts for f in (np.argmin, np.argmax)})
    return " ".join(f"{x[place]:.1f},{y[place]:.1f}" for place in places)


def _box(name: str, to_x: Scale, begin: dt.datetime, end: dt.datetime) -> Box:
    first, last = float(to_x(begin.timestamp())), float(to_x(end.timestamp()))
    return Box(round(first, 1), round(max(last - first, 1.0), 1), name)


def _steps(values: Sequence[float]) -> list[float]:
    """Round numbers that enclose all values."""
    low, high = min(values), max(values)
    span = (high - low) or 1.0
    size = 10.0 ** math.floor(math.log10(span / TICKS))
    step = next(size * factor for factor in (1.0, 2.0, 5.0, 10.0) if span / (size * factor) <= TICKS)
    first, last = math.floor(low / step), math.ceil(high / step)
    return [round(number * step, 10) for number in range(first, max(last, first + 1) + 1)]


def _time_ticks(begin: dt.datetime, end: dt.datetime, to_x: Scale) -> tuple[TimeTick, ...]:
    moments = [timezone.localtime(begin + (end - begin) * share / 3) for share in range(4)]
    return tuple(
        TimeTick(round(float(to_x(moment.timestamp())), 1), f"{moment:%d %b}", f"{moment:%H:%M}") for moment in moments
    )


def climate_line(log: ClimateLog) -> ClimateLine:
    struck = log.struck_at is not None
    return ClimateLine(
        pk=log.pk,
        name=log.name,
        period=f"{display.moment(log.first_at)} to {display.moment(log.last_at)}",
        imported=f"{display.moment(log.at)}, by {log.by.display_name}",
        state="struck" if struck else "counts",
        css="state--off" if struck else "state--good",
    )


def climate_facts(log: ClimateLog) -> list[tuple[str, str]]:
    """What a log holds, with the range of its readings."""
    series = log.to_domain()
    low, high = float(series.temperatures_c.min()), float(series.temperatures_c.max())
    facts = [
        ("Chamber", log.chamber.code),
        ("Readings", grouped(series.times.size)),
        ("From", display.moment(log.first_at)),
        ("To", display.moment(log.last_at)),
        ("Temperature", f"{figure(low, 4)} to {figure(high, 4)}{display.NO_BREAK}°C"),
        ("Times in the file", log.time_zone),
        ("Imported", f"{display.moment(log.at)}, by {log.by.display_name}"),
    ]
    known = series.humidities[np.isfinite(series.humidities)]
    if known.size:
        facts.insert(
            5, ("Relative humidity", f"{figure(known.min(), 3)} to {figure(known.max(), 3)}{display.NO_BREAK}%")
        )
    return facts
