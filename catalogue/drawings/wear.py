"""What wear does: stability of single specimens against the distance worn."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from catalogue.domain.axes import Axis
from catalogue.drawings.shapes import DrawnTick, px
from catalogue.selectors.public.method import WearSeries
from core.web import display
from core.web.jinja import fragment

LEFT, RIGHT, TOP, BASE = 44.0, 624.0, 14.0, 214.0
LEAST_POINTS = 10.0
"""The least height of the drawing, points, so that noise does not look like a fall."""


@dataclass(frozen=True, slots=True)
class WearLine:
    """One specimen: a dot a test, and a line through the means at each distance."""

    order: int
    title: str
    slug: str
    dots: tuple[tuple[str, str], ...]
    path: str


@dataclass(frozen=True, slots=True)
class WearDrawing:
    """The drawing, px."""

    lines: tuple[WearLine, ...]
    across: tuple[DrawnTick, ...]
    up: tuple[DrawnTick, ...]


def wear_drawing(series: Sequence[WearSeries], units: str) -> WearDrawing:
    """Place tests of specimens by distance and stability.

    Parameters
    ----------
    series : at least one, each with a point at least: km and stability
    """
    scores = [score for each in series for _, score in each.points]
    middle, half = (max(scores) + min(scores)) / 2, max((max(scores) - min(scores)) / 2 + 1.0, LEAST_POINTS / 2)
    farthest = max(km for each in series for km, _ in each.points) or 1.0
    along, up = Axis(0.0, farthest, RIGHT - LEFT), Axis(middle - half, middle + half, BASE - TOP)

    def place(km: float, score: float) -> tuple[str, str]:
        return px(LEFT + along.along(km)), px(BASE - up.along(score))

    lines = [
        WearLine(
            order=order,
            title=each.title,
            slug=each.slug,
            dots=tuple(place(*point) for point in each.points),
            path="M" + "L".join(" ".join(place(*point)) for point in _means(each.points)),
        )
        for order, each in enumerate(series, start=1)
    ]
    return WearDrawing(tuple(lines), _across(along, units), _up(up))


def _means(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    by_km: dict[float, list[float]] = defaultdict(list)
    for km, score in points:
        by_km[km].append(score)
    return [(km, statistics.fmean(scores)) for km, scores in sorted(by_km.items())]


def _across(axis: Axis, units: str) -> tuple[DrawnTick, ...]:
    return tuple(
        DrawnTick(px(LEFT + share * axis.length), px(BASE), display.measure(share * axis.high, "distance", units))
        for share in (0.0, 0.5, 1.0)
    )


def _up(axis: Axis) -> tuple[DrawnTick, ...]:
    ticks = axis.ticks()
    step = max(1, -(-len(ticks) // 5))
    return tuple(DrawnTick(px(LEFT), px(BASE - place), display.number(value, 0)) for value, place in ticks[::step])


def wear_markup(series: Sequence[WearSeries], units: str) -> SafeString:
    """Return the drawing as SVG; empty without series."""
    if not series:
        return SafeString("")
    label = f"Stability against the distance worn, of {display.listed([each.title for each in series])}"
    return fragment("catalogue/wear.html", drawing=wear_drawing(series, units), label=label)
