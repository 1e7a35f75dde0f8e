"""Drawings: positions that follow from the numbers, and nothing outside the frame."""

from __future__ import annotations

import re

import numpy as np
import pytest

from catalogue.selectors import BandRow
from fittings.domain.fitting.need import Need
from fittings.presentation.fitting.drawings import (
    CURVE_HEIGHT,
    CURVE_LEFT,
    CURVE_TOP,
    CURVE_WIDTH,
    CurvePoint,
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


def points(*rows):
    return [CurvePoint(weeks, share, low, high, 9) for weeks, share, low, high in rows]


START = (0.0, 1.0, 1.0, 1.0)


def test_curve_goes_straight_from_point_to_point():
    line = curve_drawing([("All", points(START, (13, 0.5, 0.3, 0.7)))]).lines[0]
    half, middle = CURVE_LEFT + CURVE_WIDTH / 2, CURVE_TOP + CURVE_HEIGHT / 2
    assert numbers(line.line) == pytest.approx([CURVE_LEFT, CURVE_TOP, half, middle], abs=0.1)
    assert len(line.dots) == 2


def test_nothing_is_drawn_before_the_first_point_or_after_the_last():
    drawing = curve_drawing([("All", points((6, 0.9, 0.8, 1.0), (12, 0.8, 0.6, 0.9)))])
    ends = numbers(drawing.lines[0].line)[::2]
    assert ends == pytest.approx([CURVE_LEFT + CURVE_WIDTH * week / 26 for week in (6, 12)], abs=0.1)
    assert min(numbers(drawing.lines[0].area)[::2]) == pytest.approx(ends[0], abs=0.1)
    assert [tick.label for tick in drawing.across] == ["0", "13", "26"]


def test_area_lies_around_its_curve_and_inside_the_frame():
    rows = points(START, (6, 0.9, 0.8, 1.0), (26, 0.4, 0.0, 0.6))
    line = curve_drawing([("One", rows), ("Other", rows)]).lines[0]
    assert line.area.startswith("M")
    assert line.area.endswith("Z")
    drawn = numbers(line.area) + numbers(line.line)
    assert np.all(np.array(drawn) >= CURVE_TOP)
    assert max(drawn) <= CURVE_LEFT + CURVE_WIDTH + 0.1


def test_long_times_get_fewer_ticks():
    drawing = curve_drawing([("All", points(START, (80, 0.5, 0.3, 0.7)))])
    assert [tick.label for tick in drawing.across] == ["0", "26", "52", "78"]


def test_no_points_draw_no_line():
    line = curve_drawing([("All", [])]).lines[0]
    assert (line.line, line.area, line.dots) == ("", "", ())


def test_point_by_itself_is_drawn_with_its_interval():
    line = curve_drawing([("All", points(START, (12, 0.8, 0.6, 0.9))), ("Some", points((12, 0.8, 0.6, 0.9)))]).lines[1]
    ((x, y),) = line.dots
    start, end = line.line.removeprefix("M").split("L")
    assert (start.split()[0], end.split()[0]) == (x, x)
    assert float(start.split()[1]) < float(y) < float(end.split()[1])
