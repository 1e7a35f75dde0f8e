"""A drawing in the place of a photo: the outline of a shoe with the stack heights of this one."""

from __future__ import annotations

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from catalogue.domain.outline import Traits
from catalogue.drawings.shapes import px
from catalogue.presentation.shoes import traits_of
from catalogue.selectors import ShoeRow
from core.web import display
from core.web.jinja import fragment

PX_PER_MM = 1.6
GROUND = 214.0
# Drawn where a height is not stated, mm.
USUAL_HEEL_MM, USUAL_FOREFOOT_MM = 30.0, 22.0
# A sole is drawn no thinner and no thicker than this, so that the shoe stays on the sheet; its number says the height.
THIN_MM, THICK_MM = 4.0, 65.0
# By what a shoe is made for: how high the collar is above the heel, and how far the toe rises from the ground, px.
COLLARS = {"running": (88.0, 18.0), "walking": (100.0, 12.0), "standing": (80.0, 6.0)}


@dataclass(frozen=True, slots=True)
class Height:
    """A stack height, written below the place where it is drawn."""

    name: str
    x: str
    label: str


@dataclass(frozen=True, slots=True)
class Silhouette:
    """The outlines as SVG paths."""

    sole: str
    upper: str
    laces: tuple[str, ...]
    traits: Traits
    heights: tuple[Height, ...]
    ground: str


def _path(*parts: str | float) -> str:
    return " ".join(part if isinstance(part, str) else px(part) for part in parts)


def _top(stack_mm: float | None, usual_mm: float) -> float:
    return GROUND - PX_PER_MM * min(max(usual_mm if stack_mm is None else stack_mm, THIN_MM), THICK_MM)


def _arch(heel: float, fore: float) -> float:
    return heel + (fore - heel) * 0.55


def _sole(heel: float, fore: float, spring: float) -> str:
    arch = _arch(heel, fore)
    return _path(
        *("M", 32, heel - 12, "C", 60, heel + 2, 120, heel + 4, 190, arch),
        *("C", 260, 2 * arch - heel - 4, 320, fore, 356, fore - 1),
        *("C", 400, fore - 5, 432, fore - 8 - spring / 2, 452, fore - 12 - spring),
        *("C", 466, fore - 4 - spring, 462, GROUND - 8 - spring, 438, GROUND - spring),
        *("C", 400, GROUND - 2, 360, GROUND, 330, GROUND, "H", 84),
        *("C", 60, GROUND, 36, GROUND - 4, 30, GROUND - 14, "C", 26, heel + 8, 27, heel, 32, heel - 12, "Z"),
    )


def _upper(heel: float, fore: float, spring: float, collar: float) -> str:
    """Draw the upper; its lower edge is the upper edge of the sole, backwards."""
    rim, toe, arch = heel - collar, fore - 12 - spring, _arch(heel, fore)
    return _path(
        *(
            "M",
            32,
            heel - 12,
            "C",
            24,
            heel - collar / 2,
            30,
            rim + 14,
            36,
            rim,
            "C",
            42,
            rim - 8,
            56,
            rim - 7,
            62,
            rim,
        ),
        *("C", 84, rim + 26, 126, rim + 28, 152, rim + 8, "L", 172, rim - 8),
        *("C", 186, rim - 12, 196, rim - 2, 204, rim + 8, "C", 250, rim + 44, 320, fore - 62, 390, fore - 56),
        *("C", 430, fore - 52, 452, toe - 18, 452, toe),
        *("C", 432, fore - 8 - spring / 2, 400, fore - 5, 356, fore - 1),
        *("C", 320, fore, 260, 2 * arch - heel - 4, 190, arch, "C", 120, heel + 4, 60, heel + 2, 32, heel - 12, "Z"),
    )


def _laces(rim: float, fore: float) -> tuple[str, ...]:
    """Draw four short lines down the instep."""
    places = [(208 + 38 * step, rim + 16 + (fore - 66 - rim) * step / 4) for step in range(4)]
    return tuple(_path("M", x, y, "L", x - 20, y + 22) for x, y in places)


def draw(shoe: ShoeRow, units: str) -> Silhouette:
    """Draw a shoe by its stack heights, by what it is made for and by its scores."""
    heel, fore = _top(shoe.stack_heel_mm, USUAL_HEEL_MM), _top(shoe.stack_forefoot_mm, USUAL_FOREFOOT_MM)
    collar, spring = COLLARS[shoe.use]
    stated = (("heel", 70.0, shoe.stack_heel_mm), ("forefoot", 336.0, shoe.stack_forefoot_mm))
    heights = tuple(
        Height(name, px(x), display.measure(stack, "length", units)) for name, x, stack in stated if stack is not None
    )
    return Silhouette(
        _sole(heel, fore, spring),
        _upper(heel, fore, spring, collar),
        _laces(heel - collar, fore),
        _traits(shoe),
        heights,
        px(GROUND),
    )


def _traits(shoe: ShoeRow) -> Traits:
    """Return what the scores put into the drawing, in the measures of the small outline; the template enlarges them."""
    heel, forefoot = (math.nan if stack is None else stack for stack in (shoe.stack_heel_mm, shoe.stack_forefoot_mm))
    return traits_of(shoe.use, (heel, forefoot), shoe.scores())


def silhouette_markup(shoe: ShoeRow, units: str) -> SafeString:
    drawing = draw(shoe, units)
    stacks = ", ".join(f"{height.name} {height.label}" for height in drawing.heights)
    label = f"Drawing of a shoe: {stacks}" if stacks else "Drawing of a shoe"
    return fragment("catalogue/silhouette.html", drawing=drawing, label=label)
