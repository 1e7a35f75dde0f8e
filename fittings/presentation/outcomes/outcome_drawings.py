"""Drawings of the outcomes' pages for inline SVG: estimates with their intervals, and bars side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.web.display import number

WIDTH, LABELS, MARGIN, ROW, HEAD, FOOT = 640.0, 190.0, 16.0, 26.0, 10.0, 30.0
BARS_HEIGHT, BARS_LEFT, BARS_BOTTOM = 200.0, 44.0, 34.0
# Ticks are rounded to ten digits: closer limits are drawn as one.
SPAN_LEAST = 1e-9


@dataclass(frozen=True, slots=True)
class Interval:
    """An estimate with its limits."""

    name: str
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Mark:
    """An interval as it is drawn."""

    name: str
    y: str
    value: str
    low: str
    high: str


@dataclass(frozen=True, slots=True)
class Tick:
    at: str
    label: str


@dataclass(frozen=True, slots=True)
class IntervalDrawing:
    marks: tuple[Mark, ...]
    ticks: tuple[Tick, ...]
    reference: str
    height: str
    foot: str
    axis: str
    title: str


def interval_drawing(
    rows: Sequence[Interval], *, axis: str, title: str, reference: float | None = None, by_ratio: bool = False
) -> IntervalDrawing | None:
    """Draw intervals below one another; `by_ratio` for ratios, whose halves and doubles lie equally far from 1."""
    drawn = [row for row in rows if all(map(math.isfinite, (row.value, row.low, row.high)))]
    if by_ratio:
        drawn = [row for row in drawn if row.low > 0]
    if not drawn:
        return None
    ends = [end for row in drawn for end in (row.low, row.high)] + ([] if reference is None else [reference])
    low, high = min(ends), max(ends)
    ticks = _ratio_ticks(low, high) if by_ratio else _ticks(low, high)
    low, high = min(low, *ticks), max(high, *ticks)

    def x(value: float) -> str:
        share = _share(value, low, high, by_ratio=by_ratio)
        return f"{LABELS + share * (WIDTH - LABELS - MARGIN):.1f}"

    marks = tuple(
        Mark(row.name, f"{HEAD + ROW * (index + 0.5):.1f}", x(row.value), x(row.low), x(row.high))
        for index, row in enumerate(drawn)
    )
    foot = HEAD + ROW * len(drawn)
    digits = next((count for count in range(5) if all(abs(round(tick, count) - tick) < 1e-9 for tick in ticks)), 2)
    return IntervalDrawing(
        marks=marks,
        ticks=tuple(Tick(x(tick), number(tick, digits)) for tick in ticks),
        reference="" if reference is None else x(reference),
        height=f"{foot + FOOT + 14:.0f}",
        foot=f"{foot:.0f}",
        axis=axis,
        title=title,
    )


def _share(value: float, low: float, high: float, *, by_ratio: bool) -> float:
    if by_ratio:
        value, low, high = math.log(value), math.log(low), math.log(high)
    return 0.5 if high == low else (value - low) / (high - low)


def _ticks(low: float, high: float) -> list[float]:
    """Round numbers from below the lowest to above the highest."""
    span = next((span for span in (high - low, abs(high)) if span > SPAN_LEAST), 1.0)
    raw = span / 4
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * factor for factor in (1, 2, 2.5, 5, 10) if power * factor >= raw)
    first, last = math.floor(low / step), math.ceil(high / step)
    return [round(step * index, 10) for index in range(first, last + 1)]


def _ratio_ticks(low: float, high: float) -> list[float]:
    first, last = math.floor(math.log2(low)), math.ceil(math.log2(high))
    every = max((last - first) // 6, 1)
    return [2.0**power for power in range(first, last + 1, every)]


@dataclass(frozen=True, slots=True)
class Bar:
    x: str
    y: str
    width: str
    height: str
    order: int
    words: str


@dataclass(frozen=True, slots=True)
class BarDrawing:
    bars: tuple[Bar, ...]
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    series: tuple[tuple[int, str], ...]
    foot: str
    height: str
    title: str


def bar_drawing(
    labels: Sequence[str], series: Sequence[tuple[str, Sequence[float]]], *, title: str
) -> BarDrawing | None:
    """Draw series of counts as bars side by side, one group a label."""
    top = max((max(values, default=0.0) for _, values in series), default=0.0)
    if not labels or top <= 0:
        return None
    ticks = _ticks(0.0, top)
    step = (WIDTH - BARS_LEFT - MARGIN) / len(labels)
    width = min(step * 0.8, 90.0) / len(series)
    left = BARS_LEFT + (step - width * len(series)) / 2

    def y(value: float) -> float:
        return HEAD + BARS_HEIGHT * (1 - value / ticks[-1])

    bars = tuple(
        Bar(
            f"{left + step * index + width * order:.1f}",
            f"{y(values[index]):.1f}",
            f"{max(width - 1, 1):.1f}",
            f"{HEAD + BARS_HEIGHT - y(values[index]):.1f}",
            order + 1,
            f"{label}: {number(values[index], 0)}, {name}",
        )
        for order, (name, values) in enumerate(series)
        for index, label in enumerate(labels)
    )
    every = math.ceil(len(labels) / 14)
    across = tuple(
        Tick(f"{BARS_LEFT + step * (index + 0.5):.1f}", label)
        for index, label in enumerate(labels)
        if index % every == 0
    )
    return BarDrawing(
        bars=bars,
        across=across,
        up=tuple(Tick(f"{y(tick):.1f}", number(tick, 0 if tick == int(tick) else 1)) for tick in ticks),
        series=tuple((order, name) for order, (name, _) in enumerate(series, start=1)),
        foot=f"{HEAD + BARS_HEIGHT:.0f}",
        height=f"{HEAD + BARS_HEIGHT + BARS_BOTTOM:.0f}",
        title=title,
    )
