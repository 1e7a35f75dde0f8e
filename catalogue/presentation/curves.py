"""Published curves in words and numbers: the table that says what the drawing shows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from catalogue.models import CurveKind
from catalogue.presentation.comparing import LETTERS
from catalogue.selectors import ShoeRow
from catalogue.selectors.public.curves import CurveRow, ShoeCurves
from core.web import display

TITLES = {CurveKind.TORSION: "Twist", CurveKind.COMPRESSION: "Heel compression"}
AT = {CurveKind.TORSION: "Angle", CurveKind.COMPRESSION: "Force"}
READ = {CurveKind.TORSION: "torque", CurveKind.COMPRESSION: "deflection"}
# Of the points of a curve every third is in the table: five, with the last one.
EVERY = 3


@dataclass(frozen=True, slots=True)
class NamedCurve:
    """The curve of one shoe, named by its letter in a comparison ("" for a shoe alone)."""

    letter: str
    title: str
    curve: CurveRow


@dataclass(frozen=True, slots=True)
class CurveLine:
    """One row of the table: an angle or a force, and for each shoe the mean with the least and most of it."""

    at: str
    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class CurveText:
    """One kind of curve: its name, what was read, how much of it there is, and the table."""

    kind: CurveKind
    title: str
    at: str
    read: str
    counts: tuple[str, ...]
    curves: tuple[NamedCurve, ...]
    lines: tuple[CurveLine, ...]


def curve_texts(shoes: Sequence[ShoeRow], curves: Mapping[int, ShoeCurves], units: str) -> list[CurveText]:
    """Put the curves of some shoes together by kind; a kind that none of them has is left out."""
    letters = LETTERS if len(shoes) > 1 else ("",)
    found = []
    for kind in CurveKind:
        named = tuple(
            NamedCurve(letter, shoe.title, curves[shoe.id][kind])
            for letter, shoe in zip(letters, shoes, strict=False)
            if kind in curves.get(shoe.id, {})
        )
        if named:
            counts = tuple(_count(one) for one in named)
            found.append(CurveText(kind, TITLES[kind], AT[kind], READ[kind], counts, named, _lines(kind, named, units)))
    return found


def _count(named: NamedCurve) -> str:
    """Say how much a curve is the mean of: "A: 6 recordings of 2 specimens"."""
    curve = named.curve
    words = f"{display.count(curve.recordings, 'recording')} of {display.count(curve.specimens, 'specimen')}"
    return f"{named.letter}: {words}" if named.letter else words


def _lines(kind: CurveKind, named: Sequence[NamedCurve], units: str) -> tuple[CurveLine, ...]:
    """Write every third point of the curves; they all end at what the protocol in use reads the scores at."""
    first = named[0].curve.at
    places = reversed(range(len(first) - 1, 0, -EVERY))
    return tuple(CurveLine(_at(kind, first[place], units), _cells(kind, named, place, units)) for place in places)


def _cells(kind: CurveKind, named: Sequence[NamedCurve], place: int, units: str) -> tuple[tuple[str, str], ...]:
    return tuple((one.title, _cell(kind, one.curve, place, units)) for one in named)


def _at(kind: CurveKind, value: float, units: str) -> str:
    return f"{value:g}°" if kind == CurveKind.TORSION else display.measure(value, "force", units)


def _cell(kind: CurveKind, curve: CurveRow, place: int, units: str) -> str:
    measure = "torque" if kind == CurveKind.TORSION else "length"
    mean, low, high = (display.measure(series[place], measure, units) for series in (curve.mean, curve.low, curve.high))
    return f"{mean} ({low.split(display.NO_BREAK)[0]} to {high.split(display.NO_BREAK)[0]})"
