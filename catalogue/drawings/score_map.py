"""The score map (`?view=map`): midfoot against rearfoot score, with the cushioning as the size of the mark.

Where all scores come from one set of weights, lines of equal stability run across it: the limits of the bands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.safestring import SafeString

from catalogue.domain import score_map
from catalogue.domain.axes import Axis, axis_over
from catalogue.domain.sieve import Ints
from catalogue.drawings.shapes import COUNTED_FROM, Box, DrawnTick, px
from catalogue.presentation import shoe_url
from catalogue.selectors import BandRow, Columns, Selection, ShoePoint
from core.web import display
from core.web.jinja import fragment

CELL_STEPS = 5
WHISKERS_UP_TO = 60
CAP_PX = 3.0
# How much room the name of a corner takes.
CORNER_PX = (160.0, 20.0)
# What lies in each corner: over the top left, top right, bottom left, bottom right one.
CORNERS = (
    "easy to twist, firm heel",
    "hard to twist, firm heel",
    "easy to twist, soft heel",
    "hard to twist, soft heel",
)


@dataclass(frozen=True, slots=True)
class MapFrame:
    """The measures of one kind of drawing, px: the room of the marks, what is left of it, below it, above it."""

    kind: str
    width: float
    height: float
    left: float
    below: float
    above: float
    edge: float = 14.0
    cell: float = 20.0
    # How wide the target of a mark is, px of the drawing: at least 24 px of the screen.
    hit: float = 31.0

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Turn px from the left and the bottom of the room into x and y of the drawing."""
        return self.left + x, self.above + self.height - y

    def point(self, x: float, y: float) -> str:
        across, down = self.at(x, y)
        return f"{px(across)} {px(down)}"


WIDE = MapFrame("wide", width=900.0, height=520.0, left=52.0, below=46.0, above=34.0)
TALL = MapFrame("tall", width=300.0, height=380.0, left=38.0, below=44.0, above=8.0, edge=8.0, cell=12.0, hit=25.0)


@dataclass(frozen=True, slots=True)
class DrawnSpot:
    """One shoe: middle, radius, the line to where it belongs ("" if it is there), whiskers, what to press and say."""

    url: str
    title: str
    band_order: int
    x: str
    y: str
    radius: str
    leader: str
    whiskers: str
    hit: str


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A limit between two bands: where the stability score is the same."""

    path: str
    x: str
    y: str
    label: str


@dataclass(frozen=True, slots=True)
class DrawnCells:
    """The squares of one step of darkness, as one path."""

    step: int
    path: str


@dataclass(frozen=True, slots=True)
class ScoreMapDrawing:
    """The score map ready to be written down; `cells` count where there are too many shoes for a mark each."""

    kind: str
    width: str
    height: str
    room: Box
    readout_x: str
    readout_y: str
    across: tuple[DrawnTick, ...]
    up: tuple[DrawnTick, ...]
    lines: tuple[DrawnLine, ...]
    marks: tuple[DrawnSpot, ...]
    rest: tuple[DrawnSpot, ...]
    cells_of_all: tuple[DrawnCells, ...]
    cells: tuple[DrawnCells, ...]
    has_whiskers: bool
    corners: tuple[DrawnTick, ...]


@dataclass(frozen=True, slots=True)
class Room:
    """Both axes over the room of the map, and the weights that make stability of them."""

    x: Axis
    y: Axis
    weights: score_map.Weights | None


def room_of(columns: Columns, frame: MapFrame) -> Room:
    """Return the axes around every published shoe, so that nothing jumps when the filter changes."""
    return columns.once(("room", frame), lambda: _room(columns, frame))


def _room(columns: Columns, frame: MapFrame) -> Room:
    midfoot, rearfoot = columns.values[:, 1], columns.values[:, 2]
    return Room(
        axis_over(_ends(midfoot), frame.width),
        axis_over(_ends(rearfoot), frame.height),
        score_map.weights_of(midfoot, rearfoot, columns.values[:, 0]),
    )


def _ends(values: score_map.Floats) -> list[float]:
    return [float(values.min()), float(values.max())] if len(values) else []


def _spots(columns: Columns, rows: tuple[int, ...], frame: MapFrame) -> tuple[score_map.Spot, ...]:
    """Place shoes so that they avoid each other."""
    room = room_of(columns, frame)
    u = columns.expanded
    dots = [
        score_map.Dot(
            columns.slugs[row],
            float(columns.values[row, 1]),
            float(columns.values[row, 2]),
            float(columns.values[row, 3]),
            None if np.isnan(u[row, 1]) else float(u[row, 1]),
            None if np.isnan(u[row, 2]) else float(u[row, 2]),
        )
        for row in rows
    ]
    apart = frame.hit if len(rows) <= WHISKERS_UP_TO else 0.0
    return score_map.layout(dots, room.x, room.y, apart=apart).spots


def _title(point: ShoePoint) -> str:
    parts = (("midfoot", point.midfoot, point.midfoot_u), ("rearfoot", point.rearfoot, point.rearfoot_u))
    scores = [
        f"{name} {display.number(value)}" + ("" if u is None else f" ± {display.number(u)}") for name, value, u in parts
    ]
    return f"{point.title}: {', '.join(scores)}, cushioning {display.number(point.cushioning)}; {point.band_name}"


def _capped(one: tuple[float, float], other: tuple[float, float]) -> str:
    """Draw a line along an axis of the drawing with a cap at either end; the line is the one step with an M."""
    cap = f"m0-{px(CAP_PX)}v{px(2 * CAP_PX)}" if one[1] == other[1] else f"m-{px(CAP_PX)} 0h{px(2 * CAP_PX)}"
    back = f"m0-{px(CAP_PX)}" if one[1] == other[1] else f"m-{px(CAP_PX)} 0"
    way = f"l{px(one[0] - other[0])} {px(one[1] - other[1])}"
    return f"M{px(other[0])} {px(other[1])}{cap}{back}{way}{cap}"


def _drawn(spot: score_map.Spot, point: ShoePoint, frame: MapFrame) -> DrawnSpot:
    x, y = frame.at(spot.x, spot.y)
    whiskers = ""
    if spot.across is not None:
        whiskers += _capped(*(frame.at(end, spot.home_y) for end in spot.across))
    if spot.up is not None:
        whiskers += _capped(*(frame.at(spot.home_x, end) for end in spot.up))
    return DrawnSpot(
        url=shoe_url(point.slug),
        title=_title(point),
        band_order=point.band_order,
        x=px(x),
        y=px(y),
        radius=px(spot.radius),
        leader=f"M{frame.point(spot.home_x, spot.home_y)}L{px(x)} {px(y)}" if spot.is_moved else "",
        whiskers=whiskers,
        hit=px(max(spot.radius, frame.hit / 2)),
    )


def _lines(room: Room, bands: Sequence[BandRow], frame: MapFrame) -> tuple[DrawnLine, ...]:
    found = []
    for band in bands:
        if room.weights is None or band.lower is None:
            continue
        ends = score_map.contour(room.weights, band.lower, room.x, room.y)
        if ends is None:
            continue
        first, last = (frame.point(*end) for end in ends)
        x, y = _label_of(frame.at(*ends[0]), frame.at(*ends[1]), frame)
        found.append(DrawnLine(f"M{first}L{last}", px(x), px(y), display.number(band.lower, 0)))
    return tuple(found)


def _label_of(start: tuple[float, float], end: tuple[float, float], frame: MapFrame) -> tuple[float, float]:
    """Return where the number of a limit is written: beside its upper end, or below the name of a corner there."""
    x, y = start[0] + 4.0, start[1] + 14.0
    to_edge = min(x - frame.left, frame.left + frame.width - x)
    if y > frame.above + CORNER_PX[1] or to_edge > CORNER_PX[0] or end[1] == start[1]:
        return x, y
    down = CORNER_PX[1]
    return x + down * (end[0] - start[0]) / (end[1] - start[1]), y + down


def _cells(counts: Ints, frame: MapFrame) -> tuple[DrawnCells, ...]:
    """Draw the squares that hold shoes, darker with more: five steps, each twice the share of the one below."""
    columns, rows = np.nonzero(counts)
    held = counts[columns, rows]
    steps = np.maximum(1, CELL_STEPS + np.ceil(np.log2(held / held.max(initial=1)))).astype(int)
    paths = dict.fromkeys(range(1, CELL_STEPS + 1), "")
    for column, row, step in zip(columns.tolist(), rows.tolist(), steps.tolist(), strict=True):
        top = min((row + 1) * frame.cell, frame.height)
        width = min(frame.cell, frame.width - column * frame.cell) - 1
        height = top - row * frame.cell - 1
        paths[step] += f"M{frame.point(column * frame.cell, top)}h{px(width)}v{px(height)}h-{px(width)}z"
    return tuple(DrawnCells(step, path) for step, path in paths.items() if path)


def _squares(columns: Columns, frame: MapFrame) -> tuple[Ints, tuple[int, int]]:
    room = room_of(columns, frame)
    return score_map.cells(columns.values[:, 1], columns.values[:, 2], (room.x, room.y), frame.cell)


def _counts(columns: Columns, frame: MapFrame, left: Ints | None = None) -> Ints:
    """Count shoes by square: all of them, or those that are left."""
    squares, shape = columns.once(("squares", frame), lambda: _squares(columns, frame))
    found: Ints = np.bincount(squares if left is None else squares[left], minlength=shape[0] * shape[1]).reshape(shape)
    return found


def _cells_of_all(columns: Columns, frame: MapFrame) -> tuple[DrawnCells, ...]:
    return columns.once(("cells", frame), lambda: _cells(_counts(columns, frame), frame))


def draw(selection: Selection, listed: Ints, bands: Sequence[BandRow], frame: MapFrame) -> ScoreMapDrawing:
    """Draw what a filter leaves; `listed` are the rows of the page below the drawing."""
    columns = selection.columns
    room = room_of(columns, frame)
    is_counted = columns.count > COUNTED_FROM
    points = selection.points(listed if is_counted else None)
    rows = tuple(columns.rows[point.slug] for point in points)
    # All shoes are where they are under every filter; those of one page differ from page to page.
    spots = _spots(columns, rows, frame) if is_counted else columns.once(frame, lambda: _spots(columns, rows, frame))
    drawn = [(point, _drawn(spot, point, frame)) for spot, point in zip(spots, points, strict=True)]
    x, y = frame.at(0.0, frame.height)
    return ScoreMapDrawing(
        kind=frame.kind,
        width=px(frame.left + frame.width + frame.edge),
        height=px(frame.above + frame.height + frame.below),
        room=Box(px(x), px(y), px(frame.width), px(frame.height), px(x + frame.width / 2), px(y + frame.height / 2)),
        readout_x=px(frame.left + frame.width),
        readout_y=px(frame.above - 12.0) if frame.above > 24.0 else "",
        across=tuple(_tick(frame.at(place, 0.0), value) for value, place in room.x.ticks()),
        up=tuple(_tick(frame.at(0.0, place), value) for value, place in room.y.ticks()),
        lines=_lines(room, bands, frame),
        marks=tuple(spot for point, spot in drawn if point.is_match),
        rest=tuple(spot for point, spot in drawn if not point.is_match),
        cells_of_all=_cells_of_all(columns, frame) if is_counted else (),
        cells=_cells(_counts(columns, frame, selection.left_rows()), frame) if is_counted else (),
        has_whiskers=len(points) <= WHISKERS_UP_TO,
        corners=_corners(frame),
    )


def _corners(frame: MapFrame) -> tuple[DrawnTick, ...]:
    """Name the corners: left ones begin at the left edge, right ones end at the right one."""
    places = (
        (6.0, frame.height - 14.0),
        (frame.width - 6.0, frame.height - 14.0),
        (6.0, 8.0),
        (frame.width - 6.0, 8.0),
    )
    drawn = []
    for (x, y), name in zip(places, CORNERS, strict=True):
        across, down = frame.at(x, y)
        drawn.append(DrawnTick(px(across), px(down), name))
    return tuple(drawn)


def _tick(place: tuple[float, float], value: float) -> DrawnTick:
    return DrawnTick(px(place[0]), px(place[1]), display.number(value, 0))


def score_map_markup(selection: Selection, listed: Ints, bands: Sequence[BandRow], label: str) -> SafeString:
    """Return the drawings for wide screens and for phones as SVG."""
    return SafeString(
        "".join(
            fragment("catalogue/score_map.html", drawing=draw(selection, listed, bands, frame), label=label)
            for frame in (WIDE, TALL)
        )
    )
