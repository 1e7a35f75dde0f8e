"""The stability scale as it is drawn: coordinates and words for the template, which only writes them down.

Two drawings of the same shoes: wide, the scale from left to right with the lanes stacked on it; and tall for phones,
the scale from top to bottom with the lanes to its left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

from django.utils.safestring import SafeString

from catalogue.domain import stability_scale
from catalogue.domain.axes import Axis
from catalogue.domain.mark_lanes import in_lanes
from catalogue.domain.sieve import Ints
from catalogue.drawings.density import Density, density_of, limits_of
from catalogue.drawings.shapes import COUNTED_FROM, Box, DrawnTick, px
from catalogue.presentation import shoe_url
from catalogue.selectors import BandRow, Selection, ShoePoint
from core.web import display
from core.web.jinja import fragment

EDGE_PX = 12.0
HIT_PX = 25.0
DOT_PX = 3.5
CAP_PX = 4.0
ASIDE_RADIUS_PX = 4.5
LETTER_PX, WIDE_LETTER_PX = 7.0, 7.8
# Of a name in small letters on several lines: a letter and a line, px.
SMALL_LETTER_PX, LINE_PX = 5.8, 12.0
# A letter of a name beside its mark, and what else the name needs, px.
LABEL_LETTER_PX, LABEL_ROOM_PX = 6.4, 14.0


@dataclass(frozen=True, slots=True)
class DrawnBand:
    """A band; `names` is its name in one line or two, none where there is no room for it."""

    order: int
    names: tuple[str, ...]
    head: Box
    room: Box


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
    label: str = ""
    label_x: str = ""
    label_anchor: str = "start"


@dataclass(frozen=True, slots=True)
class Ground:
    """What every drawing of the scale has, the same under every filter: bands, axis, the bars of all shoes."""

    kind: str
    has_names: bool
    axis: str
    bands: tuple[DrawnBand, ...]
    ticks: tuple[DrawnTick, ...]
    zones: tuple[stability_scale.Zone, ...]
    bars_of_all: str


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing of the scale, ready to be written down.

    `rest` are the shoes that the filter leaves out, drawn faintly, no links. Where there are too many shoes for a mark
    each, bars count them: on the ground all of them, and `bars` by band those that the filter leaves.
    """

    kind: str
    ground: Ground
    width: str
    height: str
    radius: str
    radius_rest: str
    readout_x: str
    readout_y: str
    marks: tuple[DrawnMark, ...]
    rest: tuple[DrawnMark, ...]
    bars: tuple[DrawnBars, ...] = ()


@dataclass(frozen=True, slots=True)
class DrawnBars:
    """The bars of one band, as one path."""

    order: int
    path: str


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
    # Where shoes are counted: how high the bars are, and the room of the marks above them.
    bars: float = 110.0
    aside: float = 76.0

    @property
    def is_tall(self) -> bool:
        return self.kind == "tall"


WIDE = Style("wide", length=760.0, names=26.0, ticks=24.0, readout=30.0, room_least=64.0)
TALL = Style("tall", length=760.0, names=118.0, ticks=38.0, readout=0.0, room_least=176.0)
STRIP = Style("strip", length=640.0, names=30.0, ticks=24.0, readout=0.0, room_least=34.0)
STRIP_SMALL = Style("strip-small", length=340.0, names=42.0, ticks=24.0, readout=0.0, room_least=34.0)
# Many shoes on a phone: whiskers would push the lanes out of the narrow page, the list has the numbers.
TALL_CROWDED = Style("tall", length=1100.0, names=118.0, ticks=38.0, readout=0.0, room_least=176.0, has_whiskers=False)
CROWDED_FROM = 100
# A strip of names lower than this holds no text: the name is beside the drawing.
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
        return f"{px(x)} {px(y)}"

    def box(self, along: tuple[float, float], across: tuple[float, float]) -> Box:
        (x1, y1), (x2, y2) = self.at(along[0], across[0]), self.at(along[1], across[1])
        return Box(
            x=px(min(x1, x2)),
            y=px(min(y1, y2)),
            width=px(abs(x2 - x1)),
            height=px(abs(y2 - y1)),
            middle_x=px((x1 + x2) / 2),
            middle_y=px((y1 + y2) / 2),
        )

    def mark(self, place: stability_scale.Mark, point: ShoePoint, radius: float, side: int) -> DrawnMark:
        """Draw a shoe; `side` says where its name goes, 1 behind it, -1 before it, 0 nowhere."""
        across = place.across + EDGE_PX / 2
        begin, end = place.extent(DOT_PX)
        named_at = begin - 5.0 if side < 0 else end + 5.0
        x, y = self.at(place.along, across)
        has_whisker = place.low is not None and place.high is not None
        return DrawnMark(
            url=shoe_url(point.slug),
            title=_title(point),
            band_order=point.band_order,
            x=px(x),
            y=px(y),
            whisker=self.whisker(place.low or 0.0, place.high or 0.0, across) if has_whisker else "",
            hit=self.box((place.along - HIT_PX / 2, place.along + HIT_PX / 2), (across - radius, across + radius)),
            label=_name(point) if side else "",
            label_x=px(self.at(named_at, across)[0]) if side else "",
            label_anchor="end" if side < 0 else "start",
        )

    def whisker(self, low: float, high: float, across: float) -> str:
        """Draw ± as a line with a cap at either end."""
        start, end = self.point(low, across), self.point(high, across)
        cap = f"m-{CAP_PX:.0f} 0h{2 * CAP_PX:.0f}" if self.style.is_tall else f"m0-{CAP_PX:.0f}v{2 * CAP_PX:.0f}"
        return f"M{start}L{end}{cap}M{start}{cap}"

    def bands(self, zones: Sequence[stability_scale.Zone], names: dict[int, str]) -> tuple[DrawnBand, ...]:
        return tuple(
            DrawnBand(
                order=zone.order,
                names=self._fitting(names[zone.order], zone.end - zone.start),
                head=self.box((zone.start, zone.end), (self.room, self.room + self.style.names)),
                room=self.box((zone.start, zone.end), (0.0, self.room)),
            )
            for zone in zones
        )

    def _fitting(self, name: str, length: float) -> tuple[str, ...]:
        """Return a band's name in one line, or in as many as it needs; none where no way fits."""
        room = self.style.names if self.style.is_tall else length
        letter = LETTER_PX if self.style.is_tall else WIDE_LETTER_PX
        if room >= letter * len(name):
            return (name,)
        for lines in (tuple(name.rsplit(" ", 1)), tuple(name.split())):
            is_high = self.style.names >= LINE_PX * len(lines) + 4.0
            if is_high and room >= SMALL_LETTER_PX * max(map(len, lines)):
                return lines
        return ()

    def ticks(self, ticks: Sequence[stability_scale.Tick]) -> tuple[DrawnTick, ...]:
        places = [(self.at(tick.along, 0.0), tick.value) for tick in ticks]
        return tuple(DrawnTick(px(x), px(y), display.number(value, 0)) for (x, y), value in places)

    def aside(self, place: tuple[float, float], axis: Axis, point: ShoePoint) -> DrawnMark:
        """Draw a shoe above the bars: its whisker at their foot's place, and a line from there to where it is."""
        base = self.style.bars + EDGE_PX / 2
        along, across = place[0], base + place[1]
        x, y = (px(part) for part in self.at(along, across))
        home = self.point(axis.along(point.stability), base)
        ends = axis.whisker(point.stability, point.expanded_u)
        whisker = f"M{self.point(ends[0], base)}L{self.point(ends[1], base)}" if ends else ""
        reach = ASIDE_RADIUS_PX + 2
        return DrawnMark(
            url=shoe_url(point.slug),
            title=_title(point),
            band_order=point.band_order,
            x=x,
            y=y,
            whisker=f"{whisker}M{home}L{x} {y}",
            hit=self._square(along, across, reach),
        )

    def _square(self, along: float, across: float, reach: float) -> Box:
        x, y = self.at(along, across)
        side = px(2 * reach)
        return Box(px(x - reach), px(y - reach), side, side)

    def bars(self, counts: Sequence[int], most: int) -> list[str]:
        """Draw a bar for each step of the scale as a path, "" where there is nothing to count."""
        step = self.style.length / len(counts)
        return [
            self._bar(place * step + 0.5, step - 1.0, count / most) if count else ""
            for place, count in enumerate(counts)
        ]

    def _bar(self, start: float, width: float, share: float) -> str:
        # A single shoe among thousands must still be seen.
        height = max(2.0, share * self.style.bars)
        x, y = self.at(start, height)
        if self.style.is_tall:
            return f"M{px(x)} {px(y)}h{px(height)}v{px(width)}h-{px(height)}z"
        return f"M{px(x)} {px(y)}h{px(width)}v{px(height)}h-{px(width)}z"


def _bars_by_band(frame: _Frame, density: Density, zones: Sequence[stability_scale.Zone]) -> tuple[DrawnBars, ...]:
    step = frame.style.length / len(density.left)
    paths = {zone.order: "" for zone in zones}
    for place, bar in enumerate(frame.bars(density.left, max(density.every))):
        if bar:
            middle = (place + 0.5) * step
            paths[next((zone.order for zone in zones if middle < zone.end), zones[-1].order)] += bar
    return tuple(DrawnBars(order, path) for order, path in paths.items() if path)


def _name(point: ShoePoint) -> str:
    return f"{point.name} {point.version}".rstrip()


def _title(point: ShoePoint) -> str:
    spread = "" if point.expanded_u is None else f" ± {display.number(point.expanded_u)}"
    return f"{point.title}: {display.number(point.stability)}{spread}, {point.band_name}"


def scale_styles(count: int) -> tuple[Style, Style]:
    """Return how to draw so many shoes, for wide screens and for phones."""
    return WIDE, TALL if count < CROWDED_FROM else TALL_CROWDED


def _ground(frame: _Frame, scale: stability_scale.StabilityScale, bands: Sequence[BandRow], bars: str) -> Ground:
    style = frame.style
    return Ground(
        kind=style.kind,
        has_names=style.names >= NAMES_LEAST_PX,
        axis=f"M{frame.point(0.0, 0.0)}L{frame.point(style.length, 0.0)}",
        bands=frame.bands(scale.zones, {band.order: band.name for band in bands}),
        ticks=frame.ticks(scale.ticks),
        zones=scale.zones,
        bars_of_all=bars,
    )


def _drawing(frame: _Frame, ground: Ground, placed: Placed, bars: tuple[DrawnBars, ...] = ()) -> Drawing:
    width, height = frame.size
    readout_x, _ = frame.at(frame.style.length, 0.0)
    return Drawing(
        kind=frame.style.kind,
        ground=ground,
        width=px(width),
        height=px(height),
        radius=px(min(placed.radius, DOT_PX)),
        radius_rest=px(min(placed.radius, DOT_PX) * 0.8),
        readout_x=px(readout_x),
        readout_y=px(frame.style.readout - 10.0) if frame.style.readout else "",
        marks=tuple(mark for point, mark in placed.marks if point.is_match),
        rest=tuple(mark for point, mark in placed.marks if not point.is_match),
        bars=bars,
    )


@dataclass(frozen=True, slots=True)
class Placed:
    """The shoes of a drawing with their marks."""

    radius: float
    marks: list[tuple[ShoePoint, DrawnMark]]


def draw(points: Sequence[ShoePoint], bands: Sequence[BandRow], style: Style) -> Drawing:
    """Draw shoes on the scale. Where they stand does not depend on the filter, so nothing jumps when it changes."""
    scale = stability_scale.layout(
        [
            stability_scale.Point(point.slug, point.stability, point.expanded_u if style.has_whiskers else None)
            for point in points
        ],
        limits_of(bands),
        style.length,
    )
    frame = _Frame(style, max(scale.depth + EDGE_PX, style.room_least))
    by_slug = {point.slug: point for point in points}
    widths = {point.slug: len(_name(point)) * LABEL_LETTER_PX + LABEL_ROOM_PX for point in points}
    sides = {} if style.is_tall else stability_scale.name_sides(scale, widths)
    marks = [
        (by_slug[place.key], frame.mark(place, by_slug[place.key], scale.radius, sides.get(place.key, 0)))
        for place in scale.marks
    ]
    return _drawing(frame, _ground(frame, scale, bands, ""), Placed(scale.radius, marks))


def _frame_of_bars(style: Style) -> _Frame:
    return _Frame(style, style.bars + style.aside + EDGE_PX)


def ground_of_bars(bands: Sequence[BandRow], style: Style, density: Density) -> Ground:
    """Draw what is below the shoes of one page: the bars of all shoes."""
    scale = stability_scale.layout((), limits_of(bands), style.length, (density.low, density.high))
    frame = _frame_of_bars(style)
    return _ground(frame, scale, bands, "".join(frame.bars(density.every, max(density.every))))


def draw_bars(points: Sequence[ShoePoint], style: Style, density: Density, ground: Ground) -> Drawing:
    """Draw how many shoes the filter leaves along the scale, and above them the shoes listed beside the drawing.

    Those of one page lie close together, so they stand aside, tied to their places.
    """
    frame, axis = _frame_of_bars(style), Axis(density.low, density.high, style.length)
    homes = [axis.along(point.stability) for point in points]
    places = in_lanes(homes, radius=ASIDE_RADIUS_PX, length=style.length, depth=style.aside)
    marks = [(point, frame.aside(place, axis, point)) for place, point in zip(places, points, strict=True)]
    bars = _bars_by_band(frame, density, ground.zones)
    return _drawing(frame, ground, Placed(ASIDE_RADIUS_PX, marks), bars)


def _written(drawing: Drawing, label: str, ground: SafeString | None = None) -> SafeString:
    if ground is None:
        ground = fragment("catalogue/scale_ground.html", ground=drawing.ground)
    return fragment("catalogue/scale.html", drawing=drawing, label=label, ground=ground)


def markup(points: Sequence[ShoePoint], bands: Sequence[BandRow], styles: Sequence[Style], label: str) -> SafeString:
    """Return the drawings of some shoes as SVG."""
    return SafeString("".join(_written(draw(points, bands, style), label) for style in styles))


def _bars_markup(selection: Selection, listed: Ints, bands: Sequence[BandRow], label: str) -> SafeString:
    columns, points, density = selection.columns, selection.points(listed), density_of(selection, bands)
    written = []
    for style in (WIDE, TALL):
        ground = columns.once(("ground", style), partial(ground_of_bars, bands, style, density))
        text = columns.once(("text", style), partial(fragment, "catalogue/scale_ground.html", ground=ground))
        written.append(_written(draw_bars(points, style, density, ground), label, text))
    return SafeString("".join(written))


def scale_markup(selection: Selection, listed: Ints, bands: Sequence[BandRow], label: str) -> SafeString:
    """Draw what a filter leaves on the scale; `listed` are the rows of the page below the drawing."""
    count = selection.columns.count
    if count > COUNTED_FROM:
        return _bars_markup(selection, listed, bands, label)
    return markup(selection.points(), bands, scale_styles(count), label)
