"""Pictures that stand for a page where somebody passes its address on: PNG, drawn dot by dot, without a library.

Those who show such previews read no SVG. PNG: ISO/IEC 15948 (W3C PNG specification), colour type 3, one byte a dot.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from catalogue.drawings.letters import HEIGHT, STEP, dots
from catalogue.presentation.words import SCORE_NAMES
from catalogue.selectors import BandRow, ShoeRow
from core.web import display

WIDTH_PX, HEIGHT_PX = 1200, 630
EDGE_PX = 60
# As in tokens.css; the bands' colours follow from the place of the first.
PAPER, INK, SOFT, TRACK, BAND = 0, 1, 2, 3, 4
COLOURS = ("faf6ee", "23211d", "57534a", "e4dccb", "d9ecf3", "a8cfdc", "6facc1", "296d82", "023c4b")
SCALE_TOP, SCALE_HEIGHT = 330, 44
BARS_TOP, BAR_STEP = 450, 56
BAR_LEFT, BAR_RIGHT = 420, 980
SHOWN = (20.0, 100.0)

Sheet = NDArray[np.uint8]


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _png(sheet: Sheet) -> bytes:
    height, width = sheet.shape
    # A zero before every row: stored as it is, without a filter.
    rows = np.hstack([np.zeros((height, 1), dtype=np.uint8), sheet])
    return b"".join(
        (
            b"\x89PNG\r\n\x1a\n",
            _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)),
            _chunk(b"PLTE", bytes.fromhex("".join(COLOURS))),
            _chunk(b"IDAT", zlib.compress(rows.tobytes(), 6)),
            _chunk(b"IEND", b""),
        )
    )


def _write(sheet: Sheet, text: str, left: int, top: int, size: int, *, colour: int = INK, most: int = WIDTH_PX) -> int:
    """Write a line so large (dots a letter's dot), smaller where it would be longer than `most`; return its end."""
    while size > 2 and len(text) * STEP * size > most:
        size -= 1
    letters = np.kron(dots(text[: most // (STEP * size)]), np.ones((size, size), dtype=np.bool_))
    room = sheet[top : top + HEIGHT * size, left : left + letters.shape[1]]
    room[letters[: room.shape[0], : room.shape[1]]] = colour
    return left + int(letters.shape[1])


def _along(value: float) -> int:
    low, high = SHOWN
    share = min(max((value - low) / (high - low), 0.0), 1.0)
    return EDGE_PX + round(share * (WIDTH_PX - 2 * EDGE_PX))


def _scale(sheet: Sheet, bands: Sequence[BandRow], top: int) -> None:
    """Draw the bands along the scale, as far as it is shown."""
    for place, band in enumerate(bands):
        start = EDGE_PX if band.lower is None else _along(band.lower)
        end = WIDTH_PX - EDGE_PX if band.upper is None else _along(band.upper)
        sheet[top : top + SCALE_HEIGHT, start : max(start, end - 3)] = _colour(place, len(bands))


def _colour(place: int, bands: int) -> int:
    """Return the colour of a band: five steps, spread over as many bands as there are."""
    steps = len(COLOURS) - BAND
    return BAND + (place if bands <= steps else place * steps // bands)


def _mark(sheet: Sheet, value: float, expanded_u: float | None) -> None:
    x, top, bottom = _along(value), SCALE_TOP - 22, SCALE_TOP + SCALE_HEIGHT + 22
    if expanded_u is not None:
        sheet[
            SCALE_TOP + SCALE_HEIGHT + 10 : bottom - 6, _along(value - expanded_u) : _along(value + expanded_u) + 1
        ] = INK
    sheet[top:bottom, x - 4 : x + 5] = PAPER
    sheet[top:bottom, x - 2 : x + 3] = INK


def _blank() -> Sheet:
    return np.full((HEIGHT_PX, WIDTH_PX), PAPER, dtype=np.uint8)


def shoe_picture(shoe: ShoeRow, bands: tuple[BandRow, ...]) -> bytes:
    """Return the picture of a shoe: its name, its place on the scale, its four scores."""
    sheet, room = _blank(), WIDTH_PX - 2 * EDGE_PX
    _write(sheet, shoe.brand, EDGE_PX, 48, 5, colour=SOFT, most=room)
    _write(sheet, f"{shoe.name} {shoe.version}".rstrip(), EDGE_PX, 100, 10, most=room)
    end = _write(sheet, display.number(shoe.stability.value), EDGE_PX, 200, 12)
    spread = shoe.stability.expanded_uncertainty
    words = "Stability" if spread is None else f"±{display.number(spread)} stability"
    _write(sheet, words, end + 12, 200, 4, colour=SOFT)
    _write(sheet, shoe.band.name, end + 12, 242, 6, most=WIDTH_PX - EDGE_PX - end)
    _scale(sheet, bands, SCALE_TOP)
    _mark(sheet, shoe.stability.value, spread)
    colour = _colour(max(0, shoe.band.order - 1), max(5, len(bands)))
    for line, (name, score) in enumerate(list(shoe.scores().items())[1:]):
        top = BARS_TOP + line * BAR_STEP
        _write(sheet, SCORE_NAMES[name], EDGE_PX, top, 5)
        length = round(min(max(score.value / 100.0, 0.0), 1.0) * (BAR_RIGHT - BAR_LEFT))
        sheet[top : top + 35, BAR_LEFT:BAR_RIGHT] = TRACK
        sheet[top : top + 35, BAR_LEFT : BAR_LEFT + length] = max(colour, BAND + 2)
        _write(sheet, display.number(score.value), BAR_RIGHT + 20, top, 5)
    return _png(sheet)


def catalogue_picture(counts: tuple[int, ...], axis: tuple[float, float], bands: tuple[BandRow, ...]) -> bytes:
    """Return the picture of the catalogue: how many shoes lie where along the scale.

    Parameters
    ----------
    counts : in equal steps of the axis, drawn three in one
    axis : its ends, points
    """
    sheet, room, foot = _blank(), WIDTH_PX - 2 * EDGE_PX, 500
    _write(sheet, "Shoes, measured", EDGE_PX, 56, 10, most=room)
    _write(sheet, f"{display.count(sum(counts), 'shoe')} on one scale", EDGE_PX, 146, 6, colour=SOFT, most=room)
    low, high = axis
    limits = [band.upper for band in bands[:-1] if band.upper is not None]
    counts = tuple(sum(counts[step : step + 3]) for step in range(0, len(counts), 3))
    for step, count in enumerate(counts):
        if count:
            start, end = (EDGE_PX + round(place / len(counts) * room) for place in (step, step + 1))
            middle = low + (step + 0.5) / len(counts) * (high - low)
            top = foot - max(4, round(count / max(counts) * 260))
            band = sum(middle >= limit for limit in limits)
            sheet[top:foot, start : end - 4] = SOFT
            sheet[top + 2 : foot, start + 2 : end - 6] = _colour(band, len(bands))
    sheet[foot : foot + 3, EDGE_PX : WIDTH_PX - EDGE_PX] = INK
    _write(sheet, "Little hold to strong hold, tested on a bench", EDGE_PX, 540, 5, colour=SOFT, most=room)
    return _png(sheet)
