"""The distribution of a true score as a curve over the bands of the scale, with the probability of each band."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from django.utils.safestring import SafeString

from catalogue.domain.score_distribution import Spread, density, probability
from catalogue.drawings.shapes import px
from catalogue.selectors import BandRow, Score
from core.domain.coverage import coverage_factor, whole_df
from core.web import display
from core.web.jinja import fragment

WIDTH, TOP, BASE, HEAD = 640.0, 46.0, 186.0, 30.0
REACH = 4.5
"""How many standard uncertainties are drawn on each side of the score."""

LEAST_POINTS = 9.0
"""The least width of the drawing, points, so that the bands beside are seen."""

STEPS = 121
WRITTEN_FROM = 0.005
NAME_PX, PERCENT_PX = 7.6, 34.0


@dataclass(frozen=True, slots=True)
class DistributionBand:
    """A band in the drawing: its strip, the part of the curve above it, and its probability ("" where too little)."""

    order: int
    name: str
    start: str
    width: str
    middle: str
    area: str
    percent: str


@dataclass(frozen=True, slots=True)
class ScoreDistribution:
    """The drawing, in px; `reach` is the line of the expanded uncertainty with its ends."""

    bands: tuple[DistributionBand, ...]
    score: str
    at: str
    reach: str
    curve: str


def score_distribution(score: Score, bands: Sequence[BandRow]) -> ScoreDistribution | None:
    """Draw how sure a score is; None where its uncertainty is not known."""
    if not score.u:
        return None
    freedom = whole_df(score.df)
    spread = Spread(score.value, score.u, None if freedom is None else float(max(1, freedom)))
    half = max(REACH * score.u, LEAST_POINTS)
    low, high = score.value - half, score.value + half
    peak = float(density(spread, [score.value])[0])

    def x(value: float) -> float:
        return (min(max(value, low), high) - low) / (high - low) * WIDTH

    def points(start: float, end: float) -> str:
        places = np.linspace(start, end, STEPS)
        heights = BASE - density(spread, places) / peak * (BASE - TOP)
        pairs = zip(places.tolist(), heights.tolist(), strict=True)
        return "L".join(f"{px(x(place))} {px(height)}" for place, height in pairs)

    expanded = coverage_factor(score.df) * score.u
    left, right = px(x(score.value - expanded)), px(x(score.value + expanded))
    return ScoreDistribution(
        bands=tuple(_band(band, spread, (low, high), x, points) for band in bands if _is_near(band, low, high)),
        score=f"{display.number(score.value)}{display.give_or_take(expanded)}",
        at=px(x(score.value)),
        reach=f"M{left} {px(TOP - 20)}v10M{left} {px(TOP - 15)}H{right}M{right} {px(TOP - 20)}v10",
        curve=f"M{points(low, high)}",
    )


def _is_near(band: BandRow, low: float, high: float) -> bool:
    return (band.upper is None or band.upper > low) and (band.lower is None or band.lower < high)


def _band(
    band: BandRow,
    spread: Spread,
    shown: tuple[float, float],
    x: Callable[[float], float],
    points: Callable[[float, float], str],
) -> DistributionBand:
    start = shown[0] if band.lower is None else max(band.lower, shown[0])
    end = shown[1] if band.upper is None else min(band.upper, shown[1])
    left, right = x(start), x(end)
    share = probability(spread, band.lower, band.upper)
    has_room = right - left >= PERCENT_PX and share >= WRITTEN_FROM
    return DistributionBand(
        order=band.order,
        name=band.name if right - left >= NAME_PX * len(band.name) else "",
        start=px(left),
        width=px(right - left),
        middle=px((left + right) / 2),
        area=f"M{px(left)} {px(BASE)}L{points(start, end)}L{px(right)} {px(BASE)}Z",
        percent=display.probability(share) if has_room else "",
    )


def score_distribution_markup(score: Score, bands: Sequence[BandRow]) -> SafeString:
    """Return the drawing as SVG; empty where the uncertainty is not known."""
    drawing = score_distribution(score, bands)
    if drawing is None:
        return SafeString("")
    said = ", ".join(f"{band.name} {band.percent}" for band in drawing.bands if band.percent and band.name)
    label = f"Where the true score may be: {drawing.score}. {said}"
    return fragment("catalogue/score_distribution.html", drawing=drawing, label=label, base=px(BASE), head=px(HEAD))
