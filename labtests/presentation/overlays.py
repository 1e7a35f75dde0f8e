"""Curves of several tests over each other: drawings, the figure for a closer look, and the points as a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from core.domain.units import from_si
from core.web import display
from labtests.domain.curves.mean_curves import MeanCurve
from labtests.models import BenchTest, CurveKind
from labtests.presentation.drawings import AXES, Drawing, Series, draw, marks_of
from labtests.selectors.overlay import OverlaidTest

# Colour and dashes of each line, so that neither has to be recognised by colour alone.
STROKES = (
    *(("#16456b", ""), ("#b4531a", "8 4"), ("#2f7d4f", "2 3"), ("#7a3f8f", "10 3 2 3")),
    *(("#16456b", "4 2"), ("#b4531a", "1 2"), ("#2f7d4f", "12 4"), ("#7a3f8f", "6 2 1 2 1 2")),
)
# Height of a line of the key below a drawing in a file.
KEY_LINE = 16
POINT_COLUMNS = (
    *("kind", "test", "shoe", "specimen", "performed", "repeats", "position", "position_unit", "load", "load_unit"),
    "difference_from_first",
)
SI_UNITS = {CurveKind.TORSION: ("deg", "N*m"), CurveKind.COMPRESSION: ("mm", "N")}


@dataclass(frozen=True, slots=True)
class OverlayKey:
    """What a line is: its name, and how it is drawn."""

    test: int
    name: str
    colour: str
    dashes: str
    offset: int


@dataclass(frozen=True, slots=True)
class Overlay:
    """One drawing of several tests; `part` is its place in addresses."""

    part: str
    kind: CurveKind
    is_difference: bool
    drawing: Drawing
    figure: dict[str, Any]

    @property
    def height_with_key(self) -> int:
        return self.drawing.height + KEY_LINE * (len(STROKES) + 1)

    @property
    def strokes(self) -> list[tuple[Any, str, str]]:
        """Each line of the drawing with colour and dashes; its class holds its place among the tests."""
        return [(line, *STROKES[int(line.css)]) for line in self.drawing.lines]


def name_of(test: BenchTest) -> str:
    specimen = test.specimen
    shoe = f"{specimen.shoe.brand.name} {specimen.shoe.title}"
    return f"{shoe}, {specimen.code}, {display.day(test.performed_at)}, test {test.pk}"


def keys_of(found: Sequence[OverlaidTest]) -> list[OverlayKey]:
    return [
        OverlayKey(one.test.pk, name_of(one.test), *STROKES[place], offset=place * KEY_LINE)
        for place, one in enumerate(found)
    ]


def overlays_of(found: Sequence[OverlaidTest], system: str) -> list[Overlay]:
    """For each kind of curve the curves themselves, and their differences from the first where there are any."""
    return [
        overlay
        for kind in CurveKind
        for is_difference in (False, True)
        if (overlay := _overlay(found, kind, system, is_difference=is_difference)) is not None
    ]


def _overlay(found: Sequence[OverlaidTest], kind: CurveKind, system: str, *, is_difference: bool) -> Overlay | None:
    chosen = [
        (place, one, (one.differences if is_difference else one.curves).get(kind)) for place, one in enumerate(found)
    ]
    series = [
        _series(curve, kind, system, (name_of(one.test), str(place)))
        for place, one, curve in chosen
        if curve is not None
    ]
    if not series:
        return None
    x_axis, y_axis = AXES[kind][system]
    labels = (x_axis[2], f"difference in {y_axis[2]}" if is_difference else y_axis[2])
    title = f"{str(kind.label).capitalize()}{', less the first' if is_difference else ''}"
    drawing = draw(title, labels, series, [] if is_difference else marks_of(kind, (), system))
    part = f"{kind.value}-difference" if is_difference else kind.value
    return Overlay(part, kind, is_difference, drawing, _figure(title, labels, series))


def _series(curve: MeanCurve, kind: CurveKind, system: str, style: tuple[str, str]) -> Series:
    x_axis, y_axis = AXES[kind][system]
    x = from_si(curve.position, x_axis[1], quantity=x_axis[0])
    return Series(x, from_si(curve.load, y_axis[1], quantity=y_axis[0]), *style)


def _figure(title: str, labels: tuple[str, str], series: Sequence[Series]) -> dict[str, Any]:
    return {
        "title": title,
        "x": labels[0],
        "y": labels[1],
        "units": [label.rpartition(", ")[2] for label in labels],
        "traces": [
            {
                "name": one.name,
                "x": one.x.tolist(),
                "y": one.y.tolist(),
                "colour": STROKES[int(one.css)][0],
                "dash": STROKES[int(one.css)][1].replace(" ", "px,") + "px" if STROKES[int(one.css)][1] else "solid",
            }
            for one in series
        ],
    }


def point_rows(found: Sequence[OverlaidTest]) -> Iterator[tuple[object, ...]]:
    """The values of `POINT_COLUMNS`: the curves in SI units, then the differences of the others from the first."""
    for kind in CurveKind:
        for is_difference in (False, True):
            for one in found:
                curve = (one.differences if is_difference else one.curves).get(kind)
                if curve is not None:
                    yield from _rows_of(one, kind, curve, is_difference=is_difference)


def _rows_of(
    one: OverlaidTest, kind: CurveKind, curve: MeanCurve, *, is_difference: bool
) -> Iterator[tuple[object, ...]]:
    specimen, units = one.test.specimen, SI_UNITS[kind]
    fixed = (kind.value, one.test.pk, specimen.shoe.slug, specimen.code, one.test.performed_at.isoformat(), curve.n)
    for position, load in zip(curve.position.tolist(), curve.load.tolist(), strict=True):
        yield (*fixed, position, units[0], load, units[1], is_difference)
