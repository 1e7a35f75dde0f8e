"""Drawings: positions that follow from the numbers, and nothing outside the frame."""

from __future__ import annotations

import re

import numpy as np
import pytest

from catalogue.selectors import BandRow
from fittings.domain.fitting.need import Need
from fittings.domain.outcomes.survival import kaplan_meier
from fittings.presentation.drawings import (
    CURVE_HEIGHT,
    CURVE_LEFT,
    CURVE_TOP,
    CURVE_WIDTH,
    curve_drawing,
    target_drawing,
)

BANDS = [
    BandRow("S1", order, name, lower, upper, "", None, 0)
    for order, name, lower, upper in [(1, "Low", None, 50.0), (2, "Middle", 50.0, 80.0), (3, "High", 80.0, None)]
]


def need(low, high):
    return Need("N1", (low + high) / 2, low, high, (), ())


def numbers(path):
    return [float(text) for text in re.findall(r"-?\d+\.\d+", path)]


def test_bands_fill_the_scale_and_the_target_lies_over_them():
    drawing = target_drawing(need(50.0, 80.0), BANDS)
    ends = [(float(band.x), float(band.x) + float(band.width)) for band in drawing.bands]
    assert ends[0][0] == 8.0
    assert ends[-1][1] == pytest.approx(632.0, abs=0.2)
    assert ends[0][1] == pytest.approx(ends[1][0], abs=0.2)
    assert (drawing.target.x, drawing.target.width) == (drawing.bands[1].x, drawing.bands[1].width)
    assert drawing.words == "Target 50.0 to 80.0 on the stability scale, centre 65.0"


@pytest.mark.parametrize(("low", "high"), [(-20.0, 10.0), (110.0, 130.0), (0.0, 200.0)])
def test_a_target_off_the_scale_ends_at_its_edge(low, high):
    target = target_drawing(need(low, high), BANDS).target
    assert 8.0 <= float(target.x) <= 632.0
    assert float(target.width) >= 2.0


def test_curve_steps_down_where_events_are():
    drawing = curve_drawing([("All", kaplan_meier([13, 26], [True, False]), 26.0)])
    half, end = CURVE_LEFT + CURVE_WIDTH / 2, CURVE_LEFT + CURVE_WIDTH
    middle = CURVE_TOP + CURVE_HEIGHT / 2
    assert numbers(drawing.lines[0].steps) == pytest.approx([CURVE_LEFT, CURVE_TOP, half, middle, end], abs=0.1)
    assert [tick.label for tick in drawing.across] == ["0", "13", "26"]


def test_curve_without_events_is_a_line_and_has_no_band():
    drawing = curve_drawing([("All", kaplan_meier([13, 26], [False, False]), 26.0)])
    assert drawing.lines[0].area == ""
    assert numbers(drawing.lines[0].steps)[1] == CURVE_TOP


@pytest.mark.parametrize("events", [[True] * 6, [True, False, True, True, False, False]])
def test_band_lies_around_its_curve_and_inside_the_frame(events):
    curve = kaplan_meier([2, 4, 6, 8, 10, 80], events)
    line = curve_drawing([("One", curve, 80.0), ("Other", curve, 80.0)]).lines[0]
    assert line.area.startswith("M")
    assert line.area.endswith("Z")
    drawn = numbers(line.area) + numbers(line.steps)
    assert np.all(np.array(drawn) >= 0)
    assert max(drawn) <= CURVE_LEFT + CURVE_WIDTH + 0.1


def test_long_times_get_fewer_ticks():
    drawing = curve_drawing([("All", kaplan_meier([80], [True]), 80.0)])
    assert [tick.label for tick in drawing.across] == ["0", "26", "52", "78"]
