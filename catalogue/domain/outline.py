"""The outline of a shoe, small: of its stated stack heights and what it is made for, so that no two look alike.

The way of drawing is our own.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

WIDTH, HEIGHT = 96, 46
GROUND = 44.0
PX_PER_MM = 0.42
# Drawn where a height is not stated, mm, and the thinnest and thickest sole that is drawn.
USUAL_HEEL_MM, USUAL_FOREFOOT_MM = 30.0, 22.0
THIN_MM, THICK_MM = 6.0, 62.0
# By what a shoe is made for: how high the collar is above the heel, and how far the toe rises from the ground, px.
COLLARS = {"running": (15.0, 4.0), "walking": (19.0, 2.5), "standing": (13.0, 1.0)}


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
    'M5 31.4C24'
    """
    return _drawn(use, _height(heel_mm, USUAL_HEEL_MM), _height(forefoot_mm, USUAL_FOREFOOT_MM))


def _height(stack_mm: float, usual_mm: float) -> int:
    return round(min(max(usual_mm if math.isnan(stack_mm) else stack_mm, THIN_MM), THICK_MM))


@lru_cache(maxsize=4096)
def _drawn(use: str, heel_mm: int, forefoot_mm: int) -> Outline:
    collar, spring = COLLARS[use]
    heel, fore = GROUND - PX_PER_MM * heel_mm, GROUND - PX_PER_MM * forefoot_mm
    rim, toe = heel - collar, fore - 3 - spring
    sole = (
        f"M5 {heel:.1f}C24 {heel + 2:.1f} 40 {fore:.1f} 68 {fore:.1f}S86 {toe + 1:.1f} 91 {toe:.1f}"
        f"C94 {toe + 3:.1f} 92 {43 - spring:.1f} 86 {44 - spring / 2:.1f}C78 44 70 44 64 44H16C8 44 4 42 5 {heel:.1f}Z"
    )
    upper = (
        f"M5 {heel:.1f}C4 {heel - 8:.1f} 5 {rim + 3:.1f} 6 {rim:.1f}S11 {rim - 2:.1f} 12 {rim:.1f}"
        f"C17 {rim + 5:.1f} 26 {rim + 5:.1f} 31 {rim:.1f}L36 {rim - 2:.1f}C40 {rim:.1f} 50 {fore - 13:.1f} 74 "
        f"{fore - 12:.1f}S91 {toe - 5:.1f} 91 {toe:.1f}C86 {toe + 1:.1f} 80 {fore:.1f} 68 {fore:.1f}"
        f"C40 {fore:.1f} 24 {heel + 2:.1f} 5 {heel:.1f}Z"
    )
    return Outline(upper, sole)
