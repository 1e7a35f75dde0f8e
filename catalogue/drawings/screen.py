"""The stability scale for a display in a store, and as a poster: large, without anything to press."""

from __future__ import annotations

import textwrap
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import segno
from django.utils.safestring import SafeString, mark_safe

from catalogue.domain import stability_scale
from catalogue.domain.axes import Axis
from catalogue.domain.label_places import spread
from catalogue.drawings.density import limits_of
from catalogue.drawings.shapes import px
from catalogue.selectors import BandRow, ShoePoint
from core.web import display

DEPTH_LEAST, EDGE = 110.0, 10.0
LARGER, STEP = 1.6, 0.85
"""Marks are so much larger than on the public page, less in such steps where they do not fit above the bands."""

RADIUS_LEAST, LISTED_LEAST = 5.0, 10.0
"""Of a mark, and of one that is named, px. Where the smallest marks do not fit either, they overlap."""

LETTER, LINE_HEIGHT = 28.0, 48.0
"""Of the names of bands, px: the width of a letter and the height of a line."""


@dataclass(frozen=True, slots=True)
class Format:
    """A way to hang the display.

    `length` of the scale, `head`, the height of its bands, and `room`, the most that the marks above them take, are in
    px; `lines` is the most lines of a band's name.
    """

    name: str
    length: float
    head: float
    room: float
    lines: int


# One px of the drawing is as large on either: 94 % of 1920 px and of 1080 px. The room is what heading, foot and six
# shoes leave of the display where each name has two lines.
WIDE, TALL = Format("wide", 1800.0, 112.0, 140.0, 2), Format("tall", 1015.0, 160.0, 190.0, 3)


@dataclass(frozen=True, slots=True)
class ScreenBand:
    """A band along the scale, and its name in lines, each with its baseline; no lines where there is no room."""

    order: int
    start: str
    length: str
    middle: str
    lines: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class ScreenMark:
    """A shoe on the scale; `is_listed` where it is named beside it, `is_new` where its score is new."""

    x: str
    y: str
    radius: str
    order: int
    is_listed: bool
    is_new: bool


@dataclass(frozen=True, slots=True)
class ScreenScale:
    """The scale from left to right with a mark for each shoe above it, for a display hung in one way."""

    name: str
    bands: tuple[ScreenBand, ...]
    marks: tuple[ScreenMark, ...]
    length: str
    height: str
    head: str
    base: str


def _axis(points: Sequence[ShoePoint], bands: Sequence[BandRow], length: float) -> Axis:
    low, high = stability_scale.axis_range([point.stability for point in points], limits_of(bands))
    return Axis(low, high, length)


def _bands(bands: Sequence[BandRow], axis: Axis, base: float, shape: Format) -> tuple[ScreenBand, ...]:
    found = []
    for band in bands:
        start = 0.0 if band.lower is None else axis.along(band.lower)
        end = axis.length if band.upper is None else axis.along(band.upper)
        lines = _lines(band.name, int((end - start) / LETTER), shape.lines)
        first = base + shape.head / 2 + LINE_HEIGHT * (0.84 - len(lines) / 2)
        placed = tuple((line, px(first + LINE_HEIGHT * row)) for row, line in enumerate(lines))
        found.append(ScreenBand(band.order, px(start), px(end - start), px((start + end) / 2), placed))
    return tuple(found)


def _lines(name: str, letters: int, most: int) -> tuple[str, ...]:
    """Break a name into so many lines at most, of so many letters; nothing where it does not fit."""
    lines = textwrap.wrap(name, max(1, letters), break_long_words=False)
    return tuple(lines) if len(lines) <= most and all(len(line) <= letters for line in lines) else ()


def screen_scale(
    points: Sequence[ShoePoint],
    bands: Sequence[BandRow],
    shape: Format = WIDE,
    *,
    listed: Collection[str],
    new: Collection[str],
) -> ScreenScale:
    """Place shoes on the scale, no higher than the format has room; `listed` and `new` are slugs."""
    placed, larger = _fitting(points, bands, shape)
    radius = placed.radius * larger
    depth = min(placed.depth * larger, shape.room - EDGE)
    base = max(DEPTH_LEAST, depth + EDGE)
    rise = depth / placed.depth if placed.depth else 0.0
    orders = {point.slug: point.band_order for point in points}
    marks = [
        ScreenMark(
            x=px(mark.along * larger),
            y=px(base - EDGE - mark.across * rise),
            radius=px(max(radius, LISTED_LEAST) if mark.key in listed else radius),
            order=orders[mark.key],
            is_listed=mark.key in listed,
            is_new=mark.key in new,
        )
        for mark in placed.marks
    ]
    # Those that are named are drawn last, above the others.
    marks.sort(key=lambda mark: (mark.is_listed, mark.is_new))
    return ScreenScale(
        name=shape.name,
        bands=_bands(bands, _axis(points, bands, shape.length), base, shape),
        marks=tuple(marks),
        length=px(shape.length),
        height=px(base + shape.head),
        head=px(shape.head),
        base=px(base),
    )


def _fitting(
    points: Sequence[ShoePoint], bands: Sequence[BandRow], shape: Format
) -> tuple[stability_scale.StabilityScale, float]:
    """Return the layout whose marks have room, and how much it is to be enlarged; of the smallest marks if none has."""
    shoes, limits = [stability_scale.Point(point.slug, point.stability) for point in points], limits_of(bands)
    larger = LARGER
    while True:
        placed = stability_scale.layout(shoes, limits, shape.length / larger)
        if placed.depth * larger <= shape.room - EDGE or placed.radius * larger * STEP < RADIUS_LEAST:
            return placed, larger
        larger *= STEP


# The poster in millimetres of A2; larger papers have the same proportions.
WIDTH_MM, HEIGHT_MM = 420.0, 594.0
TOP_MM, BOTTOM_MM = 96.0, 540.0
BAR_MM = (196.0, 224.0)
LABELS_MM = (180.0, 240.0)
"""Where the labels on the left end and those on the right begin."""

TEXT_MOST_MM, TEXT_LEAST_MM = 7.2, 2.6
LINE = 1.5
"""Distance of two lines, in sizes of the text."""

POSTER_MOST = 2 * int((BOTTOM_MM - TOP_MM) / (TEXT_LEAST_MM * LINE))
"""So many shoes have room on a poster."""


@dataclass(frozen=True, slots=True)
class PosterLabel:
    """A shoe beside the scale: its name and score, and the line that ties it to its place."""

    title: str
    score: str
    band: str
    x: str
    y: str
    anchor: str
    tie: str


@dataclass(frozen=True, slots=True)
class PosterBand:
    """A band of the poster's scale, with the colours of its area and of its name."""

    name: str
    y: str
    height: str
    middle: str
    fill: str
    ink: str


@dataclass(frozen=True, slots=True)
class Poster:
    """The scale from the bottom to the top, with a label for each shoe on its left or right."""

    bands: tuple[PosterBand, ...]
    labels: tuple[PosterLabel, ...]
    text: str
    code: SafeString


# As in tokens.css: a file has no style sheet.
FILLS = ("#d9ecf3", "#a8cfdc", "#6facc1", "#296d82", "#023c4b")
DARK_FROM = 3


def poster(points: Sequence[ShoePoint], bands: Sequence[BandRow], address: str) -> Poster:
    """Place shoes beside the scale, those that hold most at the top.

    Parameters
    ----------
    points : at most `POSTER_MOST`
    address : of the page that the code on the poster leads to
    """
    axis = _axis(points, bands, BOTTOM_MM - TOP_MM)
    ordered = sorted(points, key=lambda point: -point.stability)
    sides = (ordered[::2], ordered[1::2])
    longest = max(1, len(sides[0]))
    text = min(TEXT_MOST_MM, max(TEXT_LEAST_MM, (BOTTOM_MM - TOP_MM) / longest / LINE))
    labels = [label for side, shoes in enumerate(sides) for label in _labels(shoes, axis, side, text)]
    return Poster(_poster_bands(bands, axis), tuple(labels), px(text), _code(address))


def _height(axis: Axis, value: float) -> float:
    return BOTTOM_MM - axis.along(value)


def _labels(shoes: Sequence[ShoePoint], axis: Axis, side: int, text: float) -> list[PosterLabel]:
    homes = [_height(axis, shoe.stability) for shoe in shoes]
    places = spread(homes, gap=text * LINE, low=TOP_MM + text, high=BOTTOM_MM)
    edge, begin = BAR_MM[side], LABELS_MM[side]
    toward = 1 if side else -1
    return [
        PosterLabel(
            title=shoe.title,
            score=f"{display.number(shoe.stability)}{display.give_or_take(shoe.expanded_u)}",
            band=shoe.band_name,
            x=px(begin + toward * 1.5),
            y=px(place),
            anchor="start" if side else "end",
            tie=f"M{px(edge)} {px(home)}L{px(edge + toward * 5)} {px(home)}L{px(begin)} {px(place - text / 3)}",
        )
        for shoe, home, place in zip(shoes, homes, places, strict=True)
    ]


def _poster_bands(bands: Sequence[BandRow], axis: Axis) -> tuple[PosterBand, ...]:
    found = []
    for place, band in enumerate(bands):
        top = TOP_MM if band.upper is None else _height(axis, band.upper)
        foot = BOTTOM_MM if band.lower is None else _height(axis, band.lower)
        step = min(place if len(bands) <= len(FILLS) else place * len(FILLS) // len(bands), len(FILLS) - 1)
        ink = "#fffdf8" if step >= DARK_FROM else "#23211d"
        found.append(PosterBand(band.name, px(top), px(foot - top), px((top + foot) / 2), FILLS[step], ink))
    return tuple(found)


def _code(address: str) -> SafeString:
    svg = segno.make(address, error="m", micro=False).svg_inline(border=2, omitsize=True, svgclass=None, lineclass=None)
    return mark_safe(svg)  # noqa: S308  drawn by segno; the address in it becomes a picture only
