"""Curves as small drawings: points and ticks for an inline SVG, and the figure for a closer look."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from core.domain.figures import figure
from core.domain.units import FloatArray, from_si
from labtests.domain.curves.curves import STANDARD, Target
from labtests.models import Branch, Curve, CurveKind
from labtests.presentation.plots import tick_labels

Style = Callable[[Curve], tuple[str, str]]

WIDTH, HEIGHT = 460, 280
LEFT, RIGHT, TOP, BOTTOM = 70, 12, 10, 38
MOST_POINTS = 160
TICKS = 5
TABLE_ROWS = 12
# Values that differ by less differ by rounding.
FLAT = 1e-6

AXES = {
    CurveKind.TORSION: {
        "metric": (("angle", "deg", "angle, °"), ("torque", "N*m", "torque, N·m")),
        "imperial": (("angle", "deg", "angle, °"), ("torque", "in*lbf", "torque, in·lbf")),
    },
    CurveKind.COMPRESSION: {
        "metric": (("length", "mm", "displacement, mm"), ("force", "N", "force, N")),
        "imperial": (("length", "in", "displacement, in"), ("force", "lbf", "force, lbf")),
    },
}


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on an axis: where, and its number."""

    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Line:
    """One branch as an SVG polyline."""

    points: str
    name: str
    css: str


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a curve is read: a line across the drawing (`axis` "x" upright, "y" level), and what it means."""

    axis: str
    at: float
    label: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """The curves of one kind with their axes, in the units of the reader."""

    title: str
    x_label: str
    y_label: str
    lines: tuple[Line, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    marks: tuple[Mark, ...]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    top: int = TOP
    bottom: int = HEIGHT - BOTTOM
    middle: int = (LEFT + WIDTH - RIGHT) // 2


READ_SIGNS = {"deg": "°", "N": " N", "lbf": " lbf"}


def marks_of(kind: CurveKind, curves: Sequence[Curve], system: str, read_at: Target = STANDARD) -> list[Mark]:
    """Where the curves of a kind are read, in the units of the reader, not in those of the drawing.

    The angle is marked either way where both directions were twisted.
    """
    axis, target = ("x", read_at.angle_deg) if kind == CurveKind.TORSION else ("y", read_at.force_n)
    quantity, unit, _ = AXES[kind][system]["xy".index(axis)]
    value = from_si(target, unit, quantity=quantity)
    label = f"{figure(round(value, 1))}{READ_SIGNS[unit]}"
    marks = [Mark(axis, value, label)]
    if axis == "x" and any(float(curve.points()[0].min()) < -target / 2 for curve in curves):
        marks.append(Mark(axis, -value, f"−{label}"))
    return marks


def drawings_of(curves: Iterable[Curve], system: str, read_at: Target = STANDARD) -> list[Drawing]:
    """Draw the curves of a test, one drawing a kind."""
    by_kind = _by_kind(curves)
    return [_drawing(kind, by_kind[kind], system, by_branch, read_at) for kind in CurveKind if by_kind[kind]]


def overlays_of(first: tuple[str, Iterable[Curve]], second: tuple[str, Iterable[Curve]], system: str) -> list[Drawing]:
    """Draw the loading curves of two tests over each other; each comes with the name it goes by."""
    sides: dict[int, tuple[str, str]] = {}
    curves = []
    for (name, given), css in ((first, "curve--a"), (second, "curve--b")):
        for curve in given:
            if curve.branch == Branch.LOADING:
                sides[id(curve)] = (f"{name}, {_name(curve)}", css)
                curves.append(curve)
    by_kind = _by_kind(curves)
    return [
        _drawing(kind, by_kind[kind], system, lambda curve: sides[id(curve)]) for kind in CurveKind if by_kind[kind]
    ]


def _by_kind(curves: Iterable[Curve]) -> dict[str, list[Curve]]:
    found: dict[str, list[Curve]] = {kind: [] for kind in CurveKind}
    for curve in curves:
        found[curve.kind].append(curve)
    return found


def _converted(curve: Curve, system: str) -> tuple[FloatArray, FloatArray]:
    x_axis, y_axis = AXES[CurveKind(curve.kind)][system]
    position, load = curve.points()
    return from_si(position, x_axis[1], quantity=x_axis[0]), from_si(load, y_axis[1], quantity=y_axis[0])


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Points to draw, in the units of the reader, with name and class."""

    x: FloatArray
    y: FloatArray
    name: str
    css: str


def _drawing(
    kind: CurveKind, curves: Sequence[Curve], system: str, style: Style, read_at: Target = STANDARD
) -> Drawing:
    x_axis, y_axis = AXES[kind][system]
    series = [Series(*_converted(curve, system), *style(curve)) for curve in curves]
    return draw(str(kind.label).capitalize(), (x_axis[2], y_axis[2]), series, marks_of(kind, curves, system, read_at))


def draw(title: str, labels: tuple[str, str], series: Sequence[Series], marks: Sequence[Mark]) -> Drawing:
    """Draw lines over axes with round numbers; `labels` are those of the axes."""
    # A curve that stops short of where it is read shows how far.
    x_ticks = nice_ticks([*(one.x for one in series), *_places(marks, "x")])
    y_ticks = nice_ticks([*(one.y for one in series), *_places(marks, "y")])

    def to_x(x: Any) -> Any:
        return LEFT + (x - x_ticks[0]) / (x_ticks[-1] - x_ticks[0]) * (WIDTH - LEFT - RIGHT)

    def to_y(y: Any) -> Any:
        return HEIGHT - BOTTOM - (y - y_ticks[0]) / (y_ticks[-1] - y_ticks[0]) * (HEIGHT - TOP - BOTTOM)

    return Drawing(
        title=title,
        x_label=labels[0],
        y_label=labels[1],
        lines=tuple(Line(_points(to_x(one.x), to_y(one.y)), one.name, one.css) for one in series),
        x_ticks=_ticks(x_ticks, to_x),
        y_ticks=_ticks(y_ticks, to_y),
        marks=tuple(
            Mark(mark.axis, round(float((to_x if mark.axis == "x" else to_y)(mark.at)), 1), mark.label)
            for mark in marks
        ),
    )


def _ticks(values: Sequence[float], place: Callable[[float], float]) -> tuple[Tick, ...]:
    labels = tick_labels(values)
    return tuple(Tick(round(float(place(value)), 1), label) for value, label in zip(values, labels, strict=True))


def _places(marks: Sequence[Mark], axis: str) -> list[FloatArray]:
    return [np.array([mark.at]) for mark in marks if mark.axis == axis]


def by_branch(curve: Curve) -> tuple[str, str]:
    """Name and class of a curve among those of its own test."""
    return _name(curve), f"curve--{curve.branch}"


def _name(curve: Curve) -> str:
    return f"repeat {curve.repeat}, {curve.branch}"


def _points(x: FloatArray, y: FloatArray) -> str:
    step = max(1, math.ceil(x.size / MOST_POINTS))
    places = np.unique(np.append(np.arange(0, x.size, step), x.size - 1))
    return " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x[places], y[places], strict=True))


def nice_ticks(arrays: Sequence[FloatArray]) -> list[float]:
    """Round numbers that enclose all values, zero among them."""
    low = min(0.0, *(float(array.min()) for array in arrays))
    high = max(0.0, *(float(array.max()) for array in arrays))
    span = high - low if high - low > FLAT else 1.0
    size = 10.0 ** math.floor(math.log10(span / TICKS))
    step = next(size * factor for factor in (1.0, 2.0, 5.0, 10.0) if span / (size * factor) <= TICKS)
    first, last = math.floor(low / step), math.ceil(high / step)
    return [round(number * step, 10) for number in range(first, max(last, first + 1) + 1)]


def figure_of(curves: Iterable[Curve], system: str, read_at: Target = STANDARD) -> dict[str, Any]:
    """The curves as a figure for the browser: traces and axis titles for each kind, in the units of the reader."""
    return {
        kind: {
            "title": str(CurveKind(kind).label).capitalize(),
            "x": AXES[CurveKind(kind)][system][0][2],
            "y": AXES[CurveKind(kind)][system][1][2],
            "traces": [_trace(curve, system) for curve in found],
            "marks": [asdict(mark) for mark in marks_of(CurveKind(kind), found, system, read_at)],
        }
        for kind, found in _by_kind(curves).items()
        if found
    }


def _trace(curve: Curve, system: str) -> dict[str, Any]:
    x, y = _converted(curve, system)
    return {"name": _name(curve), "branch": curve.branch, "x": x.tolist(), "y": y.tolist()}


@dataclass(frozen=True, slots=True)
class CurveTable:
    """Some points of one branch, evenly picked, for reading without a drawing."""

    title: str
    x_label: str
    y_label: str
    points: int
    rows: tuple[tuple[str, str], ...]


def tables_of(curves: Iterable[Curve], system: str) -> list[CurveTable]:
    return [_table(curve, system) for curve in curves]


def _table(curve: Curve, system: str) -> CurveTable:
    x, y = _converted(curve, system)
    picked = np.unique(np.linspace(0, x.size - 1, min(TABLE_ROWS, x.size)).round().astype(int))
    x_axis, y_axis = AXES[CurveKind(curve.kind)][system]
    rows = tuple((figure(x[index], 4), figure(y[index], 4)) for index in picked)
    title = f"{str(CurveKind(curve.kind).label).capitalize()}, {_name(curve)}"
    return CurveTable(title, x_axis[2], y_axis[2], int(x.size), rows)
