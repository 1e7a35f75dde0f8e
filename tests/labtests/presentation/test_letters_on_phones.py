"""Letters of the lab's drawings on a phone, where a drawing is scaled down to the width of the page."""

from __future__ import annotations

import re
from pathlib import Path

from django.conf import settings

from labtests.presentation import drawings, plots
from labtests.presentation.scores import model_drawings

CSS = Path(settings.BASE_DIR) / "labtests" / "static" / "labtests" / "lab.css"
REM_PX = 16
PHONE_PX, PAGE_EDGES_PX = 390, 24
LEAST_PX = 11


def _size_on_phones(selector: str) -> float:
    (rem,) = re.findall(rf"{re.escape(selector)} {{ font-size: ([\d.]+)rem; }}", CSS.read_text())
    return float(rem) * REM_PX


def test_letters_are_at_least_eleven_pixels_on_a_phone():
    widest = max(drawings.WIDTH, plots.WIDTH)
    assert _size_on_phones(".lab-overlay text") * (PHONE_PX - PAGE_EDGES_PX) / widest >= LEAST_PX
    numbers = _size_on_phones(".slope-number")
    assert numbers * (PHONE_PX - PAGE_EDGES_PX) / model_drawings.WIDTH >= LEAST_PX


def test_all_numbers_of_a_change_of_model_have_room_beside_each_other():
    room = model_drawings.WIDTH - 2 * model_drawings.SIDE
    assert room >= model_drawings.MOST_NUMBERED * model_drawings.NUMBER_APART
