"""Our mark as PNG, in the sizes in which devices show it; drawn from the same SVG file as everywhere else."""

from __future__ import annotations

import io
import re
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from PIL import Image, ImageDraw

from catalogue.drawings.outlines import Point, points_of

SIZES_PX = (180, 192, 512)
PAPER = "#faf6ee"
MASKED_SHARE = 0.62
"""How much of a maskable icon the mark takes: systems cut such icons to circles and rounded squares."""

PLAIN_SHARE = 0.84
_BOX = 32.0
_SHARP = 4
_MARK = Path(settings.BASE_DIR) / "core" / "static" / "icons" / "mark.svg"
_RECTANGLE = re.compile(r'<rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)" fill="(#\w+)"/>')
_STROKE = re.compile(r'<path d="M([\d.-]+) ([\d.-]+)c([^"]+)"[^>]*stroke="(#\w+)" stroke-width="([\d.]+)"')


def _curve(start: Point, relative: str) -> list[Point]:
    """The points of one curve, written relative to its start as in the file."""
    numbers = [float(number) for number in re.findall(r"-?\d+(?:\.\d+)?|-?\.\d+", relative)]
    ends = " ".join(f"{number + start[place % 2]:.3f}" for place, number in enumerate(numbers))
    return points_of(f"M {start[0]} {start[1]} C {ends}")


@lru_cache(maxsize=8)
def icon(size_px: int, *, is_masked: bool = False) -> bytes:
    """Return the mark on paper as PNG, a square of so many px."""
    side = size_px * _SHARP
    share = MASKED_SHARE if is_masked else PLAIN_SHARE
    factor, edge = side * share / _BOX, side * (1 - share) / 2
    image = Image.new("RGB", (side, side), PAPER)
    on, svg = ImageDraw.Draw(image), _MARK.read_text()
    for x, y, width, height, colour in _RECTANGLE.findall(svg):
        left, top = edge + float(x) * factor, edge + float(y) * factor
        on.rectangle((left, top, left + float(width) * factor, top + float(height) * factor), fill=colour)
    for x, y, relative, colour, width in _STROKE.findall(svg):
        points = [(edge + a * factor, edge + b * factor) for a, b in _curve((float(x), float(y)), relative)]
        radius = float(width) * factor / 2
        on.line(points, fill=colour, width=round(2 * radius), joint="curve")
        for a, b in (points[0], points[-1]):
            on.ellipse((a - radius, b - radius, a + radius, b + radius), fill=colour)
    written = io.BytesIO()
    image.resize((size_px, size_px), Image.Resampling.LANCZOS).save(written, "PNG")
    return written.getvalue()
