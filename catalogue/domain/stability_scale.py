"""Where each shoe is on a drawing of the stability scale: marks that never touch, whiskers of ±U, bands, ticks.

The drawing has one long direction, the scale, and lanes beside each other. A shoe takes the lowest lane in which
neither its mark nor its whisker meets another, so that as few lanes are used as any drawing could.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

AXIS_PAD = 6.0
GAP_PX = 3.0
TICK_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
TICKS_MOST = 16

# Up to this many shoes, half the room of a mark along its lane and the height of a lane, px: enough for a finger where
# there is room, and legible still where there are hundreds.
SIZES = ((100, 12.5, 26.0), (200, 6.0, 15.0), (math.inf, 4.0, 10.0))


@dataclass(frozen=True, slots=True)
class Point:
    """One shoe: its name, its stability score and the expanded uncertainty of it (None where not known)."""

    key: str
    stability: float
    expanded_u: float | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """One band: its order and its lower (included) and upper (excluded) limits, None where open."""

    order: int
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a shoe is drawn, px along the scale and across it; `low` and `high` are its whisker's ends or None."""

    key: str
    lane: int
    along: float
    across: float
    low: float | None
    high: float | None

    def extent(self, radius: float) -> tuple[float, float]:
        """Where a mark of this radius begins and ends along the scale, its whisker included, px."""
        return _extent(self.along, (self.low, self.high), radius)


def _extent(middle: float, whisker: tuple[float | None, float | None], radius: float) -> tuple[float, float]:
    low, high = (middle if end is None else end for end in whisker)
    return min(middle - radius, low), max(middle + radius, high)


@dataclass(frozen=True, slots=True)
class Zone:
    """Where a band is along the drawing, px."""

    order: int
    start: float
    end: float

    @property
    def middle(self) -> float:
        return (self.start + self.end) / 2

    @property
    def length(self) -> float:
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Tick:
    value: float
    along: float


@dataclass(frozen=True, slots=True)
class StabilityScale:
    """A drawing: the axis from `low` to `high` over `length` px, and `depth` px of lanes."""

    low: float
    high: float
    length: float
    depth: float
    radius: float
    lanes: int
    marks: tuple[Mark, ...]
    zones: tuple[Zone, ...]
    ticks: tuple[Tick, ...]


def _check(points: Sequence[Point], limits: Sequence[Limits], length: float) -> None:
    if not length > 0:
        raise ValueError(f"length must be > 0, got {length}")
    for point in points:
        if not math.isfinite(point.stability):
            raise ValueError(f"stability of {point.key} must be finite, got {point.stability}")
        if point.expanded_u is not None and not (math.isfinite(point.expanded_u) and point.expanded_u >= 0):
            raise ValueError(f"expanded_u of {point.key} must be >= 0, got {point.expanded_u}")
    for left, right in itertools.pairwise(limits):
        if left.upper is None or left.upper != right.lower:
            raise ValueError(f"limits must meet: band {left.order} ends at {left.upper}, next starts at {right.lower}")


def axis_range(scores: Sequence[float], limits: Sequence[Limits]) -> tuple[float, float]:
    """Return the ends of the axis: around every score and every limit between bands, on whole points.

    Whiskers do not stretch it: a shoe that is hardly known would push all others together.
    """
    inner = [edge for band in limits for edge in (band.lower, band.upper) if edge is not None]
    values = [*scores, *inner]
    if not values:
        return 0.0, 100.0
    low = float(math.floor(min(values) - AXIS_PAD))
    high = float(math.ceil(max(values) + AXIS_PAD))
    return low, high


def assign_lanes(intervals: Sequence[tuple[float, float]]) -> list[int]:
    """Give each interval the lowest lane that is free where it begins.

    Parameters
    ----------
    intervals : sequence of (float, float)
        Start and end of each, in order of start; one that begins where another ends does not meet it.

    Returns
    -------
    list of int
        A lane from 0 for each interval. As many lanes are used as intervals meet at the busiest place, the fewest
        possible.

    References
    ----------
    .. [1] J. Kleinberg, E. Tardos, Algorithm Design (2006), section 4.1, interval partitioning (from memory).

    Examples
    --------
    >>> assign_lanes([(0, 4), (1, 3), (3, 6), (4, 5)])
    [0, 1, 1, 0]
    """
    lanes: list[int] = []
    busy: list[tuple[float, int]] = []
    free: list[int] = []
    for start, end in intervals:
        while busy and busy[0][0] <= start:
            heapq.heappush(free, heapq.heappop(busy)[1])
        lane = heapq.heappop(free) if free else len(busy)
        heapq.heappush(busy, (end, lane))
        lanes.append(lane)
    return lanes


@dataclass(frozen=True, slots=True)
class _Axis:
    """The scale from `low` to `high`, drawn over `length` px."""

    low: float
    high: float
    length: float

    def along(self, value: float) -> float:
        """Return where a value is drawn; one outside the axis at its edge."""
        return min(max((value - self.low) / (self.high - self.low) * self.length, 0.0), self.length)

    def whisker(self, point: Point) -> tuple[float, float] | tuple[None, None]:
        if point.expanded_u is None:
            return None, None
        return self.along(point.stability - point.expanded_u), self.along(point.stability + point.expanded_u)

    def reach(self, point: Point, radius: float) -> tuple[float, float]:
        """Return what a shoe needs along its lane: mark, whisker and half the gap on either side."""
        start, end = _extent(self.along(point.stability), self.whisker(point), radius)
        return start - GAP_PX / 2, end + GAP_PX / 2

    def ticks(self) -> tuple[Tick, ...]:
        span = self.high - self.low
        step = next((step for step in TICK_STEPS if span / step <= TICKS_MOST), span / TICKS_MOST)
        steps = range(math.ceil(self.low / step), math.floor(self.high / step) + 1)
        return tuple(Tick(index * step, self.along(index * step)) for index in steps)

    def zones(self, limits: Sequence[Limits]) -> tuple[Zone, ...]:
        return tuple(
            Zone(
                band.order,
                0.0 if band.lower is None else self.along(band.lower),
                self.length if band.upper is None else self.along(band.upper),
            )
            for band in limits
        )


def _lanes(reach: Sequence[tuple[float, float]]) -> list[int]:
    """Assign lanes by where each reach begins, and return them in the order given."""
    by_start = sorted(range(len(reach)), key=lambda index: (reach[index], index))
    lanes = assign_lanes([reach[index] for index in by_start])
    return [lane for _, lane in sorted(zip(by_start, lanes, strict=True))]


def layout(
    points: Sequence[Point],
    limits: Sequence[Limits],
    length: float = 1000.0,
    ends: tuple[float, float] | None = None,
) -> StabilityScale:
    """Place shoes along the stability scale.

    Parameters
    ----------
    points : sequence of Point
        The shoes, in any order; the drawing does not depend on it.
    limits : sequence of Limits
        The bands, in order, each beginning where the one before ends.
    length : float
        Length of the scale, px, > 0.
    ends : (float, float) or None
        Ends of the axis, from `axis_range` of more shoes than these; None to fit these.

    Returns
    -------
    StabilityScale
        Marks in order of stability (then key). No two marks of a lane are nearer than 3 px, whiskers included.
        Whiskers that leave the axis end at its edge.

    Raises
    ------
    ValueError
        A score that is no number, a negative uncertainty, bands with a gap, a length or axis that is not positive.

    Notes
    -----
    No shoes give an empty drawing of the bands, without lanes. The way of drawing is our own.

    Examples
    --------
    >>> drawn = layout([Point("a", 40.0, 2.0), Point("b", 41.0, 2.0)], [Limits(1, None, 50.0), Limits(2, 50.0, None)])
    >>> [(mark.key, mark.lane) for mark in drawn.marks]
    [('a', 0), ('b', 1)]
    """
    _check(points, limits, length)
    low, high = axis_range([point.stability for point in points], limits) if ends is None else ends
    axis = _Axis(low, high, length)
    _, radius, lane_px = next(size for size in SIZES if len(points) <= size[0])
    ordered = sorted(points, key=lambda point: (point.stability, point.key))
    whiskers = [axis.whisker(point) for point in ordered]
    lanes = _lanes([axis.reach(point, radius) for point in ordered])
    marks = tuple(
        Mark(point.key, lane, axis.along(point.stability), (lane + 0.5) * lane_px, *ends)
        for point, lane, ends in zip(ordered, lanes, whiskers, strict=True)
    )
    count = max(lanes, default=-1) + 1
    return StabilityScale(
        low=low,
        high=high,
        length=length,
        depth=count * lane_px,
        radius=radius,
        lanes=count,
        marks=marks,
        zones=axis.zones(limits),
        ticks=axis.ticks(),
    )


def name_sides(scale: StabilityScale, widths: Mapping[str, float]) -> dict[str, int]:
    """Return on which side of its mark each shoe's name has room along its lane.

    Parameters
    ----------
    widths : px that a name needs, by the shoe's key

    Returns
    -------
    dict
        1 for after the mark, which is tried first, -1 for before it; a shoe whose name has no room is not in it.

    Examples
    --------
    >>> drawn = layout([Point("a", 20.0), Point("b", 95.0)], [], 100.0, (0.0, 100.0))
    >>> name_sides(drawn, {"a": 30.0, "b": 20.0})
    {'a': 1, 'b': -1}
    """
    sides: dict[str, int] = {}
    by_lane = sorted(scale.marks, key=lambda mark: (mark.lane, mark.along))
    for _, lane in itertools.groupby(by_lane, key=lambda mark: mark.lane):
        reaches = [(mark.key, *mark.extent(scale.radius)) for mark in lane]
        nexts = [*(begin for _, begin, _ in reaches[1:]), scale.length]
        free_from = 0.0
        for (key, begin, end), next_begin in zip(reaches, nexts, strict=True):
            free_from, left = end, begin - free_from
            if next_begin - end >= widths[key]:
                sides[key], free_from = 1, end + widths[key]
            elif left >= widths[key]:
                sides[key] = -1
    return sides
