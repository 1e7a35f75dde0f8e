"""Text in pictures: Aileron Regular (Sora Sagano, public domain), the font that Pillow brings along."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from functools import cache

from PIL import ImageDraw, ImageFont

Xy = tuple[float, float]
# What the font lacks and has something alike for.
_ALIKE = {"−": "-", "–": "-", "—": "-", "\u00a0": " ", "×": "x", "ß": "ss", "Æ": "AE", "æ": "ae", "Ø": "O", "ø": "o"}
_BEYOND_ASCII = frozenset("©±°·»«‘’“”…‹›™")
LEAST_PX = 18


@cache
def font(size_px: int) -> ImageFont.FreeTypeFont:
    """The font in a size; capital letters are 0.7 of it high."""
    found = ImageFont.load_default(size_px)
    if not isinstance(found, ImageFont.FreeTypeFont):
        raise RuntimeError("Pillow was built without FreeType; install its wheel from the package index.")
    return found


def drawable(text: str) -> str:
    """Return a text in the letters that the font has: without accents, blanks for what is left.

    Examples
    --------
    >>> drawable("Café − 1")
    'Cafe - 1'
    """
    alike = "".join(_ALIKE.get(letter, letter) for letter in text)
    bare = [letter for letter in unicodedata.normalize("NFKD", alike) if not unicodedata.combining(letter)]
    return "".join(letter if " " <= letter <= "~" or letter in _BEYOND_ASCII else " " for letter in bare)


def fitting(texts: Sequence[str], size_px: int, most_px: float) -> int:
    """Return the largest size up to one in which every text is at most so wide, not below `LEAST_PX`."""
    size = size_px
    while size > LEAST_PX and any(font(size).getlength(drawable(text)) > most_px for text in texts):
        size -= 2
    return size


def lines_of(text: str, size_px: int, most_px: float, *, most_lines: int = 2) -> tuple[list[str], int]:
    """Break a text into lines at blanks, and return them with the size in which they fit."""
    words = drawable(text).split()
    lines = [""]
    for word in words:
        longer = f"{lines[-1]} {word}".strip()
        if font(size_px).getlength(longer) <= most_px or not lines[-1]:
            lines[-1] = longer
        elif len(lines) < most_lines:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines, fitting(lines, size_px, most_px)


def write(
    on: ImageDraw.ImageDraw, at: Xy, text: str, size_px: int, colour: str, *, anchor: str = "ls", weight: int = 0
) -> float:
    """Write a line with its baseline at a height, and return where it ends.

    Parameters
    ----------
    anchor : as Pillow has them: "ls" left, "ms" middle, "rs" right, all on the baseline
    weight : px by which the strokes are made stronger
    """
    shown = drawable(text)
    on.text(at, shown, fill=colour, font=font(size_px), anchor=anchor, stroke_width=weight, stroke_fill=colour)
    return at[0] + font(size_px).getlength(shown)
