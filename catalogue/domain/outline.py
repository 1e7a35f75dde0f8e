"""The outline of a shoe, small: of its stated stack heights, what it is made for and its scores, so that no two look
alike.

The way of drawing is our own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

WIDTH, HEIGHT = 192, 92
GROUND = 88.0
PX_PER_MM = 0.84
# Drawn where a height is not stated, mm, and the thinnest and thickest sole that is drawn.
USUAL_HEEL_MM, USUAL_FOREFOOT_MM = 30.0, 22.0
THIN_MM, THICK_MM = 6.0, 54.0
# By what a shoe is made for: how high the collar is above the heel, and how far the toe rises from the ground, px.
COLLARS = {"running": (30, 8), "walking": (38, 5), "standing": (26, 2)}
# Scores are drawn in so many steps. A dot of foam and the next are so far apart, px.
STEPS = 14
FOAM_PX = 9


@dataclass(frozen=True, slots=True)
class Outline:
    """Two SVG paths in a box of `WIDTH` by `HEIGHT`."""

    upper: str
    sole: str


@dataclass(frozen=True, slots=True)
class Traits:
    """What the scores put into an outline, as SVG paths: a heel counter, a shank, dots of foam."""

    counter: str
    shank: str
    foam: str


def outline(use: str, heel_mm: float, forefoot_mm: float) -> Outline:
    """Draw a shoe from the side.

    Parameters
    ----------
    use : a key of `COLLARS`
    heel_mm, forefoot_mm : stack heights, nan where not stated; drawn to the nearest mm

    Examples
    --------
    >>> outline("running", 30.0, 22.0).sole[:10]
    'M10 63C48 '
    """
    return _drawn(use, _height(heel_mm, USUAL_HEEL_MM), _height(forefoot_mm, USUAL_FOREFOOT_MM))


def _height(stack_mm: float, usual_mm: float) -> int:
    return round(min(max(usual_mm if math.isnan(stack_mm) else stack_mm, THIN_MM), THICK_MM))


@lru_cache(maxsize=4096)
def _drawn(use: str, heel_mm: int, forefoot_mm: int) -> Outline:
    collar, spring = COLLARS[use]
    heel, fore = round(GROUND - PX_PER_MM * heel_mm), round(GROUND - PX_PER_MM * forefoot_mm)
    rim, toe = heel - collar, fore - 6 - spring
    # The edge between the two, from the heel to the toe and back: both paths have it.
    edge = f"M10 {heel}C48 {heel + 4} 80 {fore} 136 {fore}S172 {toe + 2} 182 {toe}"
    back = f"C172 {toe + 2} 160 {fore} 136 {fore}S48 {heel + 4} 10 {heel}Z"
    sole = (
        f"{edge}C188 {toe + 6} 184 {86 - spring} 172 {88 - spring // 2}C156 88 140 88 128 88H32C16 88 8 84 10 {heel}Z"
    )
    upper = (
        f"M10 {heel}C8 {heel - 16} 10 {rim + 6} 12 {rim}S22 {rim - 4} 24 {rim}C34 {rim + 10} 52 {rim + 10} 62 {rim}"
        f"L72 {rim - 4}C80 {rim} 100 {fore - 26} 148 {fore - 24}S182 {toe - 10} 182 {toe}{back}"
    )
    return Outline(upper, sole)


def traits(
    use: str, heel_mm: float, forefoot_mm: float, *, midfoot: float, rearfoot: float, cushioning: float
) -> Traits:
    """Draw the scores of a shoe into its outline.

    Parameters
    ----------
    use, heel_mm, forefoot_mm : as of `outline`
    midfoot : score; the harder the shoe is to twist, the longer its shank
    rearfoot : score; the firmer the heel, the higher its counter
    cushioning : score; the more energy it absorbs, the more dots of foam in its sole. Scores below 0 and above 100 are
        drawn as these.

    Examples
    --------
    >>> traits("running", 30.0, 22.0, midfoot=50.0, rearfoot=50.0, cushioning=50.0).foam
    'M24 83h63'
    """
    heights = _height(heel_mm, USUAL_HEEL_MM), _height(forefoot_mm, USUAL_FOREFOOT_MM)
    return _drawn_traits(use, heights, (_step(midfoot), _step(rearfoot), _step(cushioning)))


def _step(score: float) -> int:
    return round(min(max(score, 0.0), 100.0) / 100.0 * STEPS)


@lru_cache(maxsize=4096)
def _drawn_traits(use: str, heights_mm: tuple[int, int], steps: tuple[int, int, int]) -> Traits:
    heel, fore = (round(GROUND - PX_PER_MM * height) for height in heights_mm)
    twist, firm, foam = steps
    high = (COLLARS[use][0] - 4) * firm // STEPS
    thick = GROUND - fore
    return Traits(
        counter=f"M10 {heel}L11 {heel - high}C28 {heel - high} 44 {heel - high // 2} 54 {heel + 3}Z",
        shank=f"M{96 - 4 * twist} {round(fore + thick * 0.32)}h{8 * twist}",
        foam=f"M24 {round(GROUND - thick * 0.28)}h{FOAM_PX * foam}",
    )
