"""The spectrum as it is drawn: coordinates and words for the template, which only writes them down.

Two drawings of the same shoes: wide, the scale from left to right with the lanes stacked on it; and tall for phones,
the scale from top to bottom with the lanes to its left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from catalogue.domain import spectrum
from catalogue.presentation import shoe_url
from catalogue.selectors import BandRow, SpectrumPoint
from core import display

EDGE_PX = 12.0
HIT_PX = 24.0


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle and the middle of it, for a text."""

    x: str
    y: str
    width: str
    height: str
    middle_x: str
    middle_y: str


@dataclass(frozen=True, slots=True)
class DrawnBand:
    order: int
    name: str
    head: Box
    room: Box


@dataclass(frozen=True, slots=True)
class DrawnTick:
    x: str
    y: str
    label: str


@dataclass(frozen=True, slots=True)
class DrawnMark:
    """One shoe: middle, whisker ("" where the uncertainty is not known), what to press, and what to say."""

    url: str
    title: str
    band_order: int
    x: str
    y: str
    whisker: str
    hit: Box


@dataclass(frozen=True, slots=True)
class Drawing:
    """A spectrum ready to be written down. `rest` are the shoes that the filter leaves out, drawn faintly, no links."""

    kind: str
    has_names: bool
    width: str
    height: str
    radius: str
    radius_rest: str
    readout_x: str
    readout_y: str
    axis: str
    bands: tuple[DrawnBand, ...]
    ticks: tuple[DrawnTick, ...]
    marks: tuple[DrawnMark, ...]
    rest: tuple[DrawnMark, ...]


@dataclass(frozen=True, slots=True)
class Style:
    """The measures of one kind of drawing, px: the scale, the strip of names, of ticks, of the readout, the lanes."""

    kind: str
    length: float
    names: float
    ticks: float
    readout: float
    room_least: float
    has_whiskers: bool = True

    @property
    def is_tall(self) -> bool:
        return self.kind == "tall"


WIDE = Style("wide", length=960.0, names=26.0, ticks=24.0, readout=30.0, room_least=64.0)
TALL = Style("tall", length=620.0, names=84.0, ticks=38.0, readout=0.0, room_least=220.0)
STRIP = Style("strip", length=640.0, names=24.0, ticks=24.0, readout=0.0, room_least=34.0)
STRIP_SMALL = Style("strip-small", length=320.0, names=9.0, ticks=24.0, readout=0.0, room_least=34.0)
# Many shoes on a phone: whiskers would push the lanes out of the narrow page, the list has the numbers.
TALL_CROWDED = Style("tall", length=1100.0, names=84.0, ticks=38.0, readout=0.0, room_least=220.0, has_whiskers=False)
CROWDED_FROM = 100
# A strip of names lower than this holds no text: the name stands beside the drawing.
NAMES_LEAST_PX = 16.0


@dataclass(frozen=True, slots=True)
class _Frame:
    """Turns places along and across the scale into x and y. Across is counted from the scale outwards."""

    style: Style
    room: float

    @property
    def size(self) -> tuple[float, float]:
        long = self.style.length + 2 * EDGE_PX
        short = self.style.readout + self.style.names + self.room + self.style.ticks
        return (short, long) if self.style.is_tall else (long, short)

    def at(self, along: float, across: float) -> tuple[float, float]:
        far = self.style.readout + self.style.names + self.room - across
        return (far, EDGE_PX + along) if self.style.is_tall else (EDGE_PX + along, far)

    def point(self, along: float, across: float) -> str:
        x, y = self.at(along, across)
        return f"{_px(x)} {_px(y)}"

    def box(self, along: tuple[float, float], across: tuple[float, float]) -> Box:
        (x1, y1), (x2, y2) = self.at(along[0], across[0]), self.at(along[1], across[1])
        return Box(
            x=_px(min(x1, x2)),
            y=_px(min(y1, y2)),
            width=_px(abs(x2 - x1)),
            height=_px(abs(y2 - y1)),
            middle_x=_px((x1 + x2) / 2),
            middle_y=_px((y1 + y2) / 2),
        )

    def mark(self, place: spectrum.Mark, point: SpectrumPoint, radius: float) -> DrawnMark:
        across = place.across + EDGE_PX / 2
        x, y = self.at(place.along, across)
        has_whisker = place.low is not None and place.high is not None
        return DrawnMark(
            url=shoe_url(point.slug),
            title=_title(point),
            band_order=point.band_order,
            x=_px(x),
            y=_px(y),
            whisker=f"M{self.point(place.low or 0, across)}L{self.point(place.high or 0, across)}"
            if has_whisker
            else "",
            hit=self.box(
                (place.along - HIT_PX / 2, place.along + HIT_PX / 2), (across - radius - 2, across + radius + 2)
            ),
        )

    def bands(self, zones: Sequence[spectrum.Zone], names: dict[int, str]) -> tuple[DrawnBand, ...]:
        return tuple(
            DrawnBand(
                order=zone.order,
                name=names[zone.order],
                head=self.box((zone.start, zone.end), (self.room, self.room + self.style.names)),
                room=self.box((zone.start, zone.end), (0.0, self.room)),
            )
            for zone in zones
        )

    def ticks(self, ticks: Sequence[spectrum.Tick]) -> tuple[DrawnTick, ...]:
        places = [(self.at(tick.along, 0.0), tick.value) for tick in ticks]
        return tuple(DrawnTick(_px(x), _px(y), display.number(value, 0)) for (x, y), value in places)


def _px(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _title(point: SpectrumPoint) -> str:
    spread = "" if point.expanded_u is None else f" ± {display.number(point.expanded_u)}"
    return f"{point.title}: {display.number(point.stability)}{spread}, {point.band_name}"


def spectrum_styles(count: int) -> tuple[Style, Style]:
    """Return how to draw so many shoes, for wide screens and for phones."""
    return WIDE, TALL if count < CROWDED_FROM else TALL_CROWDED


def draw(points: Sequence[SpectrumPoint], bands: Sequence[BandRow], style: Style) -> Drawing:
    """Draw shoes on the scale. Where they stand does not depend on the filter, so nothing jumps when it changes."""
    drawn = spectrum.layout(
        [
            spectrum.Point(point.slug, point.stability, point.expanded_u if style.has_whiskers else None)
            for point in points
        ],
        [spectrum.Limits(band.order, band.lower, band.upper) for band in bands],
        style.length,
    )
    frame = _Frame(style, max(drawn.depth + EDGE_PX, style.room_least))
    by_slug = {point.slug: point for point in points}
    marks = [(by_slug[place.key], frame.mark(place, by_slug[place.key], drawn.radius)) for place in drawn.marks]
    width, height = frame.size
    readout_x, _ = frame.at(style.length, 0.0)
    return Drawing(
        kind=style.kind,
        has_names=style.names >= NAMES_LEAST_PX,
        width=_px(width),
        height=_px(height),
        radius=_px(drawn.radius),
        radius_rest=_px(drawn.radius * 0.6),
        readout_x=_px(readout_x),
        readout_y=_px(style.readout - 10.0) if style.readout else "",
        axis=f"M{frame.point(0.0, 0.0)}L{frame.point(style.length, 0.0)}",
        bands=frame.bands(drawn.zones, {band.order: band.name for band in bands}),
        ticks=frame.ticks(drawn.ticks),
        marks=tuple(mark for point, mark in marks if point.is_match),
        rest=tuple(mark for point, mark in marks if not point.is_match),
    )


@lru_cache(maxsize=32)
def _markup(
    points: tuple[SpectrumPoint, ...], bands: tuple[BandRow, ...], styles: tuple[Style, ...], label: str
) -> str:
    return "".join(
        render_to_string("catalogue/_spectrum.html", {"drawing": draw(points, bands, style), "label": label})
        for style in styles
    )


def markup(
    points: Sequence[SpectrumPoint], bands: Sequence[BandRow], styles: Sequence[Style], label: str
) -> SafeString:
    """Return the drawings of some shoes as SVG. Kept by what is drawn: a change of stock leaves them as they are."""
    return SafeString(_markup(tuple(points), tuple(bands), tuple(styles), label))
