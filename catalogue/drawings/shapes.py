"""What every drawing is made of: lengths as text, boxes, ticks."""

from __future__ import annotations

from dataclasses import dataclass

# From so many shoes on, a drawing shows how many there are where, and marks only for those listed below it.
COUNTED_FROM = 500


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle and the middle of it, for a text."""

    x: str
    y: str
    width: str
    height: str
    middle_x: str = ""
    middle_y: str = ""


@dataclass(frozen=True, slots=True)
class DrawnTick:
    x: str
    y: str
    label: str


def px(value: float) -> str:
    """Write a length: one decimal, none where it is whole."""
    return f"{value:.1f}".removesuffix(".0")
