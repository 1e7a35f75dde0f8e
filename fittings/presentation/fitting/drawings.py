"""Drawings of the fittings' pages, worked out for inline SVG: positions and paths, no styles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.selectors import BandRow
from core.web.display import number
from fittings.domain.fitting.need import Need
from fittings.selectors.outcomes.courses import MARK_WEEKS

SCALE_FROM, SCALE_TO = 30.0, 100.0
SCALE_WIDTH, SCALE_MARGIN = 640.0, 8.0

CURVE_LEFT, CURVE_TOP, CURVE_WIDTH, CURVE_HEIGHT = 48.0, 12.0, 560.0, 240.0
CURVE_WEEKS = float(MARK_WEEKS[-1])
"""The curve is drawn this far at least: the last follow-up that figures are read at."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the scale: position, width, and what it is."""

    x: str
    width: str
    middle: str
    order: int
    name: str


@dataclass(frozen=True, slots=True)
class TargetDrawing:
    """The bands of the scale with the target over them."""

    bands: tuple[Piece, ...]
    target: Piece
    centre: str
    words: str


@dataclass(frozen=True, slots=True)
class Tick:
    at: str
    label: str


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A share at a week with its limits, and how many people were still watched."""

    weeks: float
    share: float
    low: float
    high: float
    at_risk: int | None


@dataclass(frozen=True, slots=True)
class CurveLine:
    """One group's points joined by straight lines, the area between their limits, its number in the legend."""

    name: str
    order: int
    line: str
    area: str
    dots: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class CurveDrawing:
    lines: tuple[CurveLine, ...]
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    left: str
    right: str
    top: str
    bottom: str


def _scale_x(stability: float) -> float:
    inside = min(max(stability, SCALE_FROM), SCALE_TO)
    return SCALE_MARGIN + (inside - SCALE_FROM) / (SCALE_TO - SCALE_FROM) * (SCALE_WIDTH - 2 * SCALE_MARGIN)


def _piece(low: float, high: float, order: int, name: str) -> Piece:
    left, right = _scale_x(low), _scale_x(high)
    return Piece(f"{left:.1f}", f"{max(right - left, 2.0):.1f}", f"{(left + right) / 2:.1f}", order, name)


def target_drawing(need: Need, bands: Sequence[BandRow]) -> TargetDrawing:
    """Draw the need on the scale of bands; what is beyond the drawing ends at its edge."""
    pieces = tuple(
        _piece(
            SCALE_FROM if band.lower is None else band.lower,
            SCALE_TO if band.upper is None else band.upper,
            band.order,
            band.name,
        )
        for band in bands
    )
    words = f"Target {number(need.low)} to {number(need.high)} on the stability scale, centre {number(need.centre)}"
    return TargetDrawing(pieces, _piece(need.low, need.high, 0, "target"), f"{_scale_x(need.centre):.1f}", words)


def curve_drawing(curves: Sequence[tuple[str, Sequence[CurvePoint]]]) -> CurveDrawing:
    """Draw curves through their points, with the areas between the limits. Nothing is drawn before or after them."""
    last = max([CURVE_WEEKS, *(point.weeks for _, points in curves for point in points)])
    lines = tuple(_line(name, order, points, last) for order, (name, points) in enumerate(curves, start=1))
    every = 13 if last <= 60 else 26
    weeks = range(0, int(last) + 1, every)
    return CurveDrawing(
        lines=lines,
        across=tuple(Tick(f"{_x(week, last):.1f}", str(week)) for week in weeks),
        up=tuple(Tick(f"{_y(share / 100):.1f}", str(share)) for share in (0, 25, 50, 75, 100)),
        left=f"{CURVE_LEFT:.0f}",
        right=f"{CURVE_LEFT + CURVE_WIDTH:.0f}",
        top=f"{CURVE_TOP:.0f}",
        bottom=f"{CURVE_TOP + CURVE_HEIGHT:.0f}",
    )


def _x(weeks: float, last: float) -> float:
    return CURVE_LEFT + weeks / last * CURVE_WIDTH


def _y(share: float) -> float:
    return CURVE_TOP + (1.0 - share) * CURVE_HEIGHT


def _line(name: str, order: int, points: Sequence[CurvePoint], last: float) -> CurveLine:
    dots = tuple((f"{_x(point.weeks, last):.1f}", f"{_y(point.share):.1f}") for point in points)
    upper = [f"{_x(point.weeks, last):.1f} {_y(point.high):.1f}" for point in points]
    lower = [f"{_x(point.weeks, last):.1f} {_y(point.low):.1f}" for point in reversed(points)]
    area = f"M{'L'.join(upper + lower)}Z" if points else ""
    # A point by itself has no line and no area to say whose it is and how sure: its interval is drawn as a line.
    joined = [*upper, *lower] if len(points) == 1 else [" ".join(dot) for dot in dots]
    return CurveLine(name, order, f"M{'L'.join(joined)}" if joined else "", area, dots)
