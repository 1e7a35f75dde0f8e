"""The outline of a shoe, small: of its stated stack heights and what it is made for, so that no two look alike.

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


@dataclass(frozen=True, slots=True)
class Outline:
    """Two SVG paths in a box of `WIDTH` by `HEIGHT`."""

    upper: str
    sole: str


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
