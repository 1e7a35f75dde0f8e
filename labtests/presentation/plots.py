"""Charts of studies as they are drawn: places and words for an inline SVG; the numbers are in a table beside it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from core.web import display

WIDTH, HEIGHT = 480, 280
LEFT, RIGHT, TOP, BOTTOM = 70, 14, 12, 40
TICKS = 5
EDGE = 0.04
"""Room beside the outermost values, as a part of their range."""


@dataclass(frozen=True, slots=True)
class PlotTick:
    """A mark on an axis: where, and its words."""

    at: str
    label: str


@dataclass(frozen=True, slots=True)
class PlotMark:
    """One value; `css` gives its shape: "dot", "dot dot--out" (a diamond), "dot dot--off" (hollow)."""

    x: str
    y: str
    css: str
    title: str
    diamond: str


@dataclass(frozen=True, slots=True)
class PlotLine:
    """A line through places; `label` is at its end where given."""

    points: str
    css: str
    name: str
    label: str = ""
    label_y: str = ""


@dataclass(slots=True)
class Plot:
    """A frame with its axes; things are drawn into it in the reader's units."""

    title: str
    x_label: str
    y_label: str
    x_low: float
    x_high: float
    y_low: float
    y_high: float
    x_ticks: list[PlotTick] = field(default_factory=list)
    y_ticks: list[PlotTick] = field(default_factory=list)
    areas: list[PlotLine] = field(default_factory=list)
    lines: list[PlotLine] = field(default_factory=list)
    marks: list[PlotMark] = field(default_factory=list)
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM
    middle: int = (LEFT + WIDTH - RIGHT) // 2

    def x(self, value: float) -> float:
        return self.left + (value - self.x_low) / (self.x_high - self.x_low) * (self.right - self.left)

    def y(self, value: float) -> float:
        return self.bottom - (value - self.y_low) / (self.y_high - self.y_low) * (self.bottom - self.top)

    def mark(self, x: float, y: float, title: str, *, css: str = "dot") -> None:
        a, b = self.x(x), self.y(y)
        diamond = f"{a:.1f},{b - 6:.1f} {a + 6:.1f},{b:.1f} {a:.1f},{b + 6:.1f} {a - 6:.1f},{b:.1f}"
        self.marks.append(PlotMark(f"{a:.1f}", f"{b:.1f}", css, title, diamond if "dot--out" in css else ""))

    def line(self, places: Iterable[tuple[float, float]], name: str, *, css: str = "", label: str = "") -> None:
        listed = list(places)
        at = ""
        if label:
            # Above its line, but below a lower limit and where there is no room above.
            end = self.y(listed[-1][1])
            at = f"{end + 14:.1f}" if "lower" in label or end < self.top + 14 else f"{end - 5:.1f}"
        self.lines.append(PlotLine(self._points(listed), css, name, label, at))

    def level(self, y: float, name: str, *, css: str = "plot__limit", label: str = "") -> None:
        """A level across the whole frame."""
        self.line([(self.x_low, y), (self.x_high, y)], name, css=css, label=label)

    def area(self, places: Iterable[tuple[float, float]], name: str) -> None:
        self.areas.append(PlotLine(self._points(places), "plot__area", name))

    def _points(self, places: Iterable[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(x):.1f},{self.y(y):.1f}" for x, y in places)


def plot_of(
    title: str,
    axes: tuple[str, str],
    x_values: Sequence[float],
    y_values: Sequence[float],
    *,
    names: Sequence[str] = (),
) -> Plot:
    """Set up a frame that encloses all values; `names` label the places 1, 2, … of the x axis instead of numbers."""
    y_ticks = ticks_around(y_values)
    if names:
        plot = Plot(title, *axes, 0.5, len(names) + 0.5, y_ticks[0], y_ticks[-1])
        plot.x_ticks = [PlotTick(f"{plot.x(place):.1f}", name) for place, name in enumerate(names, start=1)]
    else:
        x_ticks = ticks_around(x_values)
        plot = Plot(title, *axes, x_ticks[0], x_ticks[-1], y_ticks[0], y_ticks[-1])
        plot.x_ticks = _ticks(x_ticks, plot.x)
    plot.y_ticks = _ticks(y_ticks, plot.y)
    return plot


def _ticks(values: Sequence[float], place: Callable[[float], float]) -> list[PlotTick]:
    return [PlotTick(f"{place(value):.1f}", label) for value, label in zip(values, tick_labels(values), strict=True)]


def tick_labels(values: Sequence[float]) -> list[str]:
    """Write the numbers of an axis, all with as many decimals as the longest needs, and a real minus sign.

    Examples
    --------
    >>> tick_labels([-0.5, 0.0, 0.25])
    ['−0.50', '0.00', '0.25']
    """
    short = [f"{value:.10g}" for value in values]
    if any("e" in text for text in short):
        # Too large or too small to be written out beside an axis.
        return [text.replace("-", display.MINUS) for text in short]
    digits = max(len(text.partition(".")[2]) for text in short)
    return [display.number(value, digits) for value in values]


def ticks_around(values: Sequence[float]) -> list[float]:
    """Round numbers that enclose all values, not reaching for zero where they are far from it.

    Examples
    --------
    >>> ticks_around([4.1, 4.9])
    [4.0, 4.2, 4.4, 4.6, 4.8, 5.0]
    """
    least, most = min(values), max(values)
    # Values equal but for rounding still get a frame: a hundredth of their size to either side. So do those whose range
    # is so small that a part of it is no number any more.
    is_spread = most - least > max(1e-9 * max(abs(least), abs(most)), 1e-300)
    edge = EDGE * (most - least) if is_spread else abs(most) * 0.01 or 1.0
    low, high = least - edge, most + edge
    size = 10.0 ** math.floor(math.log10((high - low) / TICKS))
    step = next(size * factor for factor in (1.0, 2.0, 5.0, 10.0) if (high - low) / (size * factor) <= TICKS)
    # Without the slack a bound that is itself a round number would slip to the next one by rounding.
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    if least >= 0.0:
        first = max(first, 0)
    digits = max(0, 2 - math.floor(math.log10(step)))
    return [round(number * step, digits) for number in range(first, max(last, first + 1) + 1)]
