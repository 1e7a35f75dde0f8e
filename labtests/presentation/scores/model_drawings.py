"""Drawings of a change of model: every shoe on the scale in use and on the new one; references against their fit."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.figures import figure
from core.web import display
from labtests.domain.scores.bands import Band
from labtests.domain.scores.model_fit import PartFit
from labtests.presentation.drawings import Tick, nice_ticks
from labtests.selectors.scores.rescoring import ShoeChange

WIDTH, SIDE = 460, 14
TOP_RULE, BOTTOM_RULE, HEIGHT = 56, 240, 286
BAND_HEIGHT = 16
NUMBER_APART = 18
MOST_NUMBERED = 24


@dataclass(frozen=True, slots=True)
class Zone:
    """A band on a rule: its place, order and name."""

    x: float
    width: float
    order: int
    name: str


@dataclass(frozen=True, slots=True)
class SlopeLine:
    """A shoe from the upper rule to the lower one; `number` where it changes band, and the place of that number."""

    x_now: float
    x_then: float
    title: str
    moves: bool = False
    number: int | None = None
    x_number: float = 0.0


@dataclass(frozen=True, slots=True)
class SlopeChart:
    """Both rules with their bands and ticks, and one line per shoe; those that change band come last, on top."""

    zones_now: tuple[Zone, ...]
    zones_then: tuple[Zone, ...]
    ticks: tuple[Tick, ...]
    lines: tuple[SlopeLine, ...]
    words: str
    width: int = WIDTH
    height: int = HEIGHT
    top: int = TOP_RULE
    bottom: int = BOTTOM_RULE
    band_height: int = BAND_HEIGHT
    zone_top: int = TOP_RULE - BAND_HEIGHT
    number_top: int = 14
    leader_top: int = 18
    tick_bottom: int = BOTTOM_RULE + BAND_HEIGHT + 18
    left: int = SIDE
    right: int = WIDTH - SIDE


def slope_chart(shoes: Sequence[ShoeChange], now: Sequence[Band], then: Sequence[Band]) -> SlopeChart | None:
    """Draw each shoe as a line from where it is now to where it would be; None without shoes."""
    placed = [(shoe, shoe.now.stability, shoe.then.values["stability"]) for shoe in shoes if shoe.then is not None]
    if not placed:
        return None
    edges = [edge for band in (*now, *then) for edge in (band.lower, band.upper) if edge is not None]
    values = [*edges, *(value for _, *pair in placed for value in pair)]
    low, high = 10.0 * math.floor(min(values) / 10.0 - 0.3), 10.0 * math.ceil(max(values) / 10.0 + 0.3)

    def x(value: float) -> float:
        return round(SIDE + (value - low) / (high - low) * (WIDTH - 2 * SIDE), 1)

    step = 10.0 * max(1, math.ceil((high - low) / 100.0))
    ticks = [low + step * number for number in range(int((high - low) / step) + 1)]
    still = [SlopeLine(x(a), x(b), _caption(shoe, a, b)) for shoe, a, b in placed if not shoe.changes_band]
    moving = [(shoe, a, b) for shoe, a, b in placed if shoe.changes_band]
    numbered = _numbered([(x(a), x(b), _caption(shoe, a, b)) for shoe, a, b in moving])
    return SlopeChart(
        zones_now=_zones(now, x(low), x(high), x),
        zones_then=_zones(then, x(low), x(high), x),
        ticks=tuple(Tick(x(value), figure(value)) for value in ticks),
        lines=(*still, *numbered),
        words=f"{display.count(len(placed), 'shoe')} before and after, {len(moving)} of them in another band",
    )


def _caption(shoe: ShoeChange, now: float, then: float) -> str:
    return f"{shoe.now.title}: {display.number(now)} to {display.number(then)}"


def _numbered(lines: Sequence[tuple[float, float, str]]) -> list[SlopeLine]:
    """Number lines in the order given; the numbers are moved apart where they would touch."""
    order = sorted(range(len(lines)), key=lambda place: lines[place][0])
    shown = len(lines) <= MOST_NUMBERED
    places = dict(zip(order, _apart([lines[place][0] for place in order]), strict=True)) if shown else {}
    return [
        SlopeLine(now, then, f"{place + 1}. {title}", True, place + 1 if shown else None, places.get(place, 0.0))
        for place, (now, then, title) in enumerate(lines)
    ]


def _apart(places: Sequence[float]) -> list[float]:
    """Places in rising order, at least `NUMBER_APART` from each other and inside the drawing."""
    found: list[float] = []
    for place in places:
        found.append(max(place, found[-1] + NUMBER_APART) if found else place)
    limit = float(WIDTH - SIDE)
    for index in range(len(found) - 1, -1, -1):
        found[index] = min(found[index], limit)
        limit = found[index] - NUMBER_APART
    return found


def _zones(bands: Sequence[Band], low: float, high: float, x: Callable[[float], float]) -> tuple[Zone, ...]:
    zones = []
    for band in bands:
        start = low if band.lower is None else x(band.lower)
        end = high if band.upper is None else x(band.upper)
        zones.append(Zone(start, round(max(0.0, end - start), 1), band.order, band.name))
    return tuple(zones)


FIT_LEFT, FIT_BOTTOM, FIT_TOP, FIT_RIGHT = 46, 210, 12, 446


@dataclass(frozen=True, slots=True)
class Stem:
    """One reference: where it is, how far its residual reaches."""

    x: float
    y: float
    title: str


@dataclass(frozen=True, slots=True)
class ResidualDrawing:
    """Residuals of one score over the fitted score, as stems from zero."""

    title: str
    stems: tuple[Stem, ...]
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    zero: float
    width: int = WIDTH
    height: int = 250
    left: int = FIT_LEFT
    right: int = FIT_RIGHT
    top: int = FIT_TOP
    bottom: int = FIT_BOTTOM


def residual_drawing(part: PartFit) -> ResidualDrawing:
    """Draw what is left over at each reference shoe."""
    fitted = np.array([row.fitted for row in part.residuals])
    left_over = np.array([row.residual for row in part.residuals])
    x_ticks = nice_ticks([fitted])
    reach = max(float(np.abs(left_over).max()), 1e-6)
    y_ticks = nice_ticks([np.array([-reach, reach])])

    def x(value: float) -> float:
        share = (value - x_ticks[0]) / (x_ticks[-1] - x_ticks[0])
        return round(FIT_LEFT + share * (FIT_RIGHT - FIT_LEFT), 1)

    def y(value: float) -> float:
        share = (value - y_ticks[0]) / (y_ticks[-1] - y_ticks[0])
        return round(FIT_BOTTOM - share * (FIT_BOTTOM - FIT_TOP), 1)

    return ResidualDrawing(
        title=part.score.capitalize(),
        stems=tuple(
            Stem(x(row.fitted), y(row.residual), f"{row.shoe}: {display.signed(row.residual, 2)}")
            for row in part.residuals
        ),
        x_ticks=tuple(Tick(x(value), figure(value)) for value in x_ticks),
        y_ticks=tuple(Tick(y(value), figure(value)) for value in y_ticks),
        zero=y(0.0),
    )
