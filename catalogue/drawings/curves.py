"""How shoes behaved on the bench: torque over angle, force over deflection, up to four shoes over each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from catalogue.domain.labels import spread_out
from catalogue.drawings.shapes import DrawnTick, px
from catalogue.models import CurveKind
from catalogue.presentation.curves import CurveText
from core.domain.units import from_si, to_si
from core.web import display
from core.web.jinja import fragment

LEFT, RIGHT, TOP, BASE = 46.0, 336.0, 30.0, 230.0
LETTER_PX = 16.0
TICKS_MOST = 5
"""Of one axis."""


@dataclass(frozen=True, slots=True)
class DrawnCurve:
    """One shoe: the line of its means, the area of all recordings, the end of the line, and the letter beside it."""

    order: int
    letter: str
    line: str
    area: str
    end: tuple[str, str]
    at: tuple[str, str]


@dataclass(frozen=True, slots=True)
class CurveDrawing:
    """One kind of curve, px; the titles of the axes name the units."""

    across: tuple[DrawnTick, ...]
    up: tuple[DrawnTick, ...]
    across_title: str
    up_title: str
    curves: tuple[DrawnCurve, ...]


@dataclass(frozen=True, slots=True)
class _Series:
    """One curve in the reader's units, as pairs of across and up: the means, the least and the most."""

    mean: list[tuple[float, float]]
    low: list[tuple[float, float]]
    high: list[tuple[float, float]]


def _shown(values: Sequence[float], kind: str, units: str) -> list[float]:
    style = display.STYLES[kind][display.IMPERIAL if units == display.IMPERIAL else display.METRIC]
    return [
        from_si(to_si(value, style.stored_unit, quantity=style.quantity), style.unit, quantity=style.quantity)
        for value in values
    ]


def _series(text: CurveText, units: str) -> list[_Series]:
    """Turn the curves to across and up: torque rises over the angle, and force over the deflection."""
    found = []
    for named in text.curves:
        curve = named.curve
        read = (curve.mean, curve.low, curve.high)
        if text.kind == CurveKind.TORSION:
            pairs = [list(zip(curve.at, _shown(one, "torque", units), strict=True)) for one in read]
        else:
            force = _shown(curve.at, "force", units)
            pairs = [list(zip(_shown(one, "length", units), force, strict=True)) for one in read]
        found.append(_Series(*pairs))
    return found


def ticks_to(high: float) -> list[float]:
    """Return round values from 0 to `high`, `TICKS_MOST` at most above 0.

    Examples
    --------
    >>> ticks_to(15.0), ticks_to(0.34)
    ([0.0, 5.0, 10.0, 15.0], [0.0, 0.1, 0.2, 0.3])
    """
    size = 10.0 ** math.floor(math.log10(high))
    step = next(part * size for part in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0) if high / (part * size) <= TICKS_MOST)
    return [round(number * step, 6) for number in range(math.floor(high / step + 1e-9) + 1)]


def curve_drawing(text: CurveText, units: str) -> CurveDrawing:
    """Place the curves of one kind over each other on the same axes."""
    series = _series(text, units)
    points = [point for one in series for part in (one.mean, one.low, one.high) for point in part]
    most_across, most_up = max(x for x, _ in points), max(y for _, y in points)

    def place(point: tuple[float, float]) -> tuple[float, float]:
        x, y = point
        return LEFT + max(x, 0.0) / most_across * (RIGHT - LEFT), BASE - max(y, 0.0) / most_up * (BASE - TOP)

    def path(line: Sequence[tuple[float, float]]) -> str:
        return "L".join(" ".join(map(px, place(point))) for point in line)

    ends = [place(one.mean[-1]) for one in series]
    letters = _letters(ends, is_beside=text.kind == CurveKind.TORSION)
    curves = tuple(
        DrawnCurve(
            order=order,
            letter=named.letter,
            line=f"M{path(one.mean)}",
            area=f"M{path(one.low)}L{path(one.high[::-1])}Z",
            end=(px(end[0]), px(end[1])),
            at=(px(at[0]), px(at[1])),
        )
        for order, (named, one, end, at) in enumerate(zip(text.curves, series, ends, letters, strict=True), start=1)
    )
    across = tuple(DrawnTick(px(place((value, 0.0))[0]), px(BASE), f"{value:g}") for value in ticks_to(most_across))
    up = tuple(DrawnTick(px(LEFT), px(place((0.0, value))[1]), f"{value:g}") for value in ticks_to(most_up))
    return CurveDrawing(across, up, *_axis_titles(text.kind, units), curves)


def _letters(ends: Sequence[tuple[float, float]], *, is_beside: bool) -> list[tuple[float, float]]:
    """Place the letters to the right of the ends of the lines, or above them, so that none covers another."""
    if is_beside:
        heights = spread_out([y for _, y in ends], apart=LETTER_PX, low=TOP, high=BASE)
        return [(RIGHT + 14.0, height) for height in heights]
    along = spread_out([x for x, _ in ends], apart=LETTER_PX, low=LEFT, high=RIGHT)
    return [(place, TOP - 14.0) for place in along]


def _axis_titles(kind: CurveKind, units: str) -> tuple[str, str]:
    system = display.IMPERIAL if units == display.IMPERIAL else display.METRIC
    torque, force, length = (display.STYLES[name][system].sign for name in ("torque", "force", "length"))
    return (
        ("angle, °", f"torque, {torque}") if kind == CurveKind.TORSION else (f"deflection, {length}", f"force, {force}")
    )


def curves_markup(text: CurveText, units: str) -> SafeString:
    """Return the drawing of one kind as SVG; the table beside it says the same."""
    titles = display.listed([named.title for named in text.curves])
    last = text.lines[-1]
    said = ", ".join(f"{title} {value}" for title, value in last.cells)
    label = f"{text.title} of {titles}. {text.read.capitalize()} at {last.at}: {said}"
    return fragment("catalogue/curves.html", drawing=curve_drawing(text, units), label=label)
