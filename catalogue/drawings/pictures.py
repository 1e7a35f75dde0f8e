"""Pictures that stand for a page where somebody passes its address on, as PNG: those who show them read no SVG."""

from __future__ import annotations

import io
from collections.abc import Sequence

from PIL import Image, ImageDraw, ImageOps, UnidentifiedImageError

from catalogue.drawings.lettering import fitting, font, lines_of, write
from catalogue.drawings.outlines import points_of
from catalogue.drawings.silhouette import draw as silhouette_of
from catalogue.presentation.words import SCORE_NAMES
from catalogue.selectors import BandRow, ShoeRow
from core.web import display

WIDTH_PX, HEIGHT_PX = 1200, 630
EDGE_PX = 60
# As in tokens.css.
PAPER, SHEET, INK, SOFT, LINE = "#faf6ee", "#fffdf8", "#23211d", "#57534a", "#d8d1c2"
BANDS = ("#d9ecf3", "#a8cfdc", "#6facc1", "#296d82", "#023c4b")
DARK_FROM = 3
"""From this place on text on a band is light."""

SHOWN = (20.0, 100.0)
SCALE_TOP, SCALE_HEIGHT = 446, 40
BOX = (700, 60, 1140, 330)
"""Left, top, right and bottom of what shows the shoe, px."""

_SHARP = 3
"""Outlines are drawn so many times larger, so that their edges are smooth."""


def _blank() -> tuple[Image.Image, ImageDraw.ImageDraw]:
    image = Image.new("RGB", (WIDTH_PX, HEIGHT_PX), PAPER)
    return image, ImageDraw.Draw(image)


def _png(image: Image.Image) -> bytes:
    written = io.BytesIO()
    image.save(written, "PNG", compress_level=6)
    return written.getvalue()


def _step(place: int, bands: int) -> int:
    """Return the step of the ramp of a band: five steps, spread over as many bands as there are."""
    return min(place if bands <= len(BANDS) else place * len(BANDS) // bands, len(BANDS) - 1)


def _along(value: float) -> float:
    low, high = SHOWN
    share = min(max((value - low) / (high - low), 0.0), 1.0)
    return EDGE_PX + share * (WIDTH_PX - 2 * EDGE_PX)


def _scale(on: ImageDraw.ImageDraw, bands: Sequence[BandRow], top: int) -> None:
    """Draw the bands along the scale, as far as it is shown, with the names of the first and the last."""
    for place, band in enumerate(bands):
        start = EDGE_PX if band.lower is None else _along(band.lower)
        end = WIDTH_PX - EDGE_PX if band.upper is None else _along(band.upper) - 3
        if end > start:
            on.rectangle((start, top, end, top + SCALE_HEIGHT), fill=BANDS[_step(place, len(bands))])
    if bands:
        write(on, (EDGE_PX, top - 24), bands[0].name, 24, SOFT)
        write(on, (WIDTH_PX - EDGE_PX, top - 24), bands[-1].name, 24, SOFT, anchor="rs")


def _mark(on: ImageDraw.ImageDraw, value: float, expanded_u: float | None) -> None:
    """Draw where a score is, and how far the true one may be from there."""
    x, middle = _along(value), SCALE_TOP + SCALE_HEIGHT + 22
    if expanded_u is not None:
        low, high = _along(value - expanded_u), _along(value + expanded_u)
        on.line((low, middle, high, middle), fill=INK, width=5)
        for end in (low, high):
            on.line((end, middle - 10, end, middle + 10), fill=INK, width=4)
    on.rectangle((x - 6, SCALE_TOP - 14, x + 6, middle + 4), fill=PAPER)
    on.rectangle((x - 3, SCALE_TOP - 14, x + 3, middle + 4), fill=INK)
    on.ellipse((x - 11, middle - 11, x + 11, middle + 11), fill=INK, outline=PAPER, width=3)


def _outline(shoe: ShoeRow, size: tuple[int, int]) -> Image.Image:
    """Draw the outline of a shoe by its stack heights."""
    width, height = size[0] * _SHARP, size[1] * _SHARP
    sheet = Image.new("RGB", (width, height), SHEET)
    on, shape = ImageDraw.Draw(sheet), silhouette_of(shoe, display.METRIC)
    factor = width / 490

    def placed(path: str) -> list[tuple[float, float]]:
        return [(x * factor, height * 0.82 + (y - 214) * factor) for x, y in points_of(path)]

    on.line((0, height * 0.82, width, height * 0.82), fill=LINE, width=2 * _SHARP)
    on.polygon(placed(shape.upper), fill=BANDS[0], outline=INK, width=2 * _SHARP)
    on.polygon(placed(shape.sole), fill=BANDS[2], outline=INK, width=2 * _SHARP)
    for lace in shape.laces:
        on.line(placed(lace), fill=INK, width=2 * _SHARP)
    return sheet.resize(size, Image.Resampling.LANCZOS)


def _photo(photo: bytes | None, size: tuple[int, int]) -> Image.Image | None:
    """Fit a photo into the box; None where there is none, or what is stored is none."""
    if photo is None:
        return None
    try:
        found = Image.open(io.BytesIO(photo)).convert("RGB")
    except (UnidentifiedImageError, OSError):
        return None
    return ImageOps.pad(found, size, color=SHEET)


def _title(on: ImageDraw.ImageDraw, shoe: ShoeRow) -> None:
    room = BOX[0] - EDGE_PX - 40
    write(on, (EDGE_PX, 96), shoe.brand, fitting([shoe.brand], 34, room), SOFT)
    lines, size = lines_of(f"{shoe.name} {shoe.version}".rstrip(), 64, room)
    for place, line in enumerate(lines):
        write(on, (EDGE_PX, 168 + 66 * place), line, size, INK, weight=1)


def _band_words(shoe: ShoeRow) -> str:
    band = shoe.band
    notes = []
    if band.borderline:
        notes.append(f"borderline, may be {band.neighbour}" if band.neighbour else "borderline")
    if band.provisional:
        notes.append("provisional")
    return ", ".join(notes)


def _score(on: ImageDraw.ImageDraw, shoe: ShoeRow, bands: int) -> None:
    """Write the score with its uncertainty, and beside it the band and what is to be said of it."""
    end = write(on, (EDGE_PX, 356), display.number(shoe.stability.value), 104, INK, weight=1)
    spread = shoe.stability.expanded_uncertainty
    if spread is not None:
        end = write(on, (end + 16, 356), f"± {display.number(spread)}", 48, SOFT)
    step, name = _step(max(0, shoe.band.order - 1), max(len(BANDS), bands)), shoe.band.name
    left, room = end + 32, BOX[0] - end - 32
    size = fitting([name], 32, max(room, 180))
    width = font(size).getlength(name) + 32
    on.rounded_rectangle((left, 276, left + width, 326), radius=4, fill=BANDS[step], outline=INK, width=1)
    write(on, (left + 16, 312), name, size, SHEET if step >= DARK_FROM else INK)
    if words := _band_words(shoe):
        write(on, (left, 358), words, fitting([words], 24, WIDTH_PX - EDGE_PX - left), INK)


def shoe_picture(shoe: ShoeRow, bands: tuple[BandRow, ...], photo: bytes | None = None) -> bytes:
    """Return the picture of a shoe: its name, its score with what is doubtful about it, its place on the scale.

    Parameters
    ----------
    photo : the file of its photo; without one the outline of a shoe with its stack heights is drawn
    """
    image, on = _blank()
    size = (BOX[2] - BOX[0], BOX[3] - BOX[1])
    on.rectangle((BOX[0] - 1, BOX[1] - 1, BOX[2], BOX[3]), fill=SHEET, outline=LINE)
    image.paste(_photo(photo, size) or _outline(shoe, size), BOX[:2])
    _title(on, shoe)
    _score(on, shoe, len(bands))
    _scale(on, bands, SCALE_TOP)
    _mark(on, shoe.stability.value, shoe.stability.expanded_uncertainty)
    others = [f"{SCORE_NAMES[name]} {display.number(score.value)}" for name, score in list(shoe.scores().items())[1:]]
    write(on, (EDGE_PX, 584), "   ".join(others), 28, INK)
    write(on, (WIDTH_PX - EDGE_PX, 584), "measured on a bench", 24, SOFT, anchor="rs")
    return _png(image)


def catalogue_picture(counts: tuple[int, ...], axis: tuple[float, float], bands: tuple[BandRow, ...]) -> bytes:
    """Return the picture of the catalogue: how many shoes are where along the scale.

    Parameters
    ----------
    counts : in equal steps of the axis, drawn three in one
    axis : its ends, points
    """
    image, on = _blank()
    room, foot = WIDTH_PX - 2 * EDGE_PX, 500
    write(on, (EDGE_PX, 128), "Shoes, measured", 84, INK, weight=1)
    write(on, (EDGE_PX, 186), f"{display.count(sum(counts), 'shoe')} on one stability scale", 40, SOFT)
    low, high = axis
    limits = [band.upper for band in bands[:-1] if band.upper is not None]
    counts = tuple(sum(counts[step : step + 3]) for step in range(0, len(counts), 3))
    for step, count in enumerate(counts):
        if count:
            start, end = (EDGE_PX + round(place / len(counts) * room) for place in (step, step + 1))
            middle = low + (step + 0.5) / len(counts) * (high - low)
            top = foot - max(8, round(count / max(counts) * 250))
            colour = BANDS[_step(sum(middle >= limit for limit in limits), len(bands))]
            on.rectangle((start, top, end - 5, foot), fill=colour, outline=SOFT, width=2)
    on.line((EDGE_PX, foot + 1, WIDTH_PX - EDGE_PX, foot + 1), fill=INK, width=3)
    write(on, (EDGE_PX, 560), bands[0].name if bands else "", 28, SOFT)
    write(on, (WIDTH_PX - EDGE_PX, 560), bands[-1].name if bands else "", 28, SOFT, anchor="rs")
    return _png(image)
