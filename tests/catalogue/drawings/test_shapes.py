from __future__ import annotations

import re

import pytest

from catalogue import drawings
from catalogue.selectors import BandRow, ShoePoint

LIMITS = [(None, 50.0), (50.0, 60.0), (60.0, 70.0), (70.0, 80.0), (80.0, None)]
BANDS = [
    BandRow("S1", order, f"Band {order}", low, high, "", None, 0) for order, (low, high) in enumerate(LIMITS, start=1)
]


def shoe(number, stability, expanded_u=2.0, is_match=True):
    band = 1 + sum(stability >= limit for limit in (50, 60, 70, 80))
    return ShoePoint(f"shoe-{number}", "Corvane", "Reed", str(number), stability, expanded_u, band, "", is_match)


def test_wide_puts_the_scale_across_and_tall_down():
    points = [shoe(1, 45.0), shoe(2, 75.0)]
    wide, tall = (drawings.draw(points, BANDS, style) for style in (drawings.WIDE, drawings.TALL))
    assert float(wide.marks[0].x) < float(wide.marks[1].x)
    assert wide.marks[0].y == wide.marks[1].y
    assert float(tall.marks[0].y) < float(tall.marks[1].y)
    assert tall.marks[0].x == tall.marks[1].x


@pytest.mark.parametrize("style", [drawings.WIDE, drawings.TALL, drawings.TALL_CROWDED, drawings.STRIP])
def test_everything_is_inside_the_drawing(style):
    drawn = drawings.draw([shoe(number, 30.0 + number / 2) for number in range(120)], BANDS, style)
    width, height = float(drawn.width), float(drawn.height)
    assert len(drawn.marks) == 120
    for mark in drawn.marks:
        assert 0 < float(mark.x) < width
        assert 0 < float(mark.y) < height
    for band in drawn.ground.bands:
        for box in (band.head, band.room):
            assert 0 <= float(box.x) <= float(box.x) + float(box.width) <= width + 0.1
            assert 0 <= float(box.y) <= float(box.y) + float(box.height) <= height + 0.1


def test_filtered_out_shoes_are_the_rest():
    drawn = drawings.draw([shoe(1, 45.0), shoe(2, 55.0, is_match=False)], BANDS, drawings.WIDE)
    assert [mark.url for mark in drawn.marks] == ["/shoes/shoe-1/"]
    assert [mark.url for mark in drawn.rest] == ["/shoes/shoe-2/"]


def test_mark_of_unknown_uncertainty_has_no_whisker_and_says_none():
    (mark,) = drawings.draw([shoe(1, 45.0, None)], BANDS, drawings.WIDE).marks
    assert mark.whisker == ""
    assert "±" not in mark.title


def test_many_shoes_fit_a_phone():
    points = [shoe(number, 40.0 + number / 10, 3.0) for number in range(500)]
    style = drawings.scale_styles(len(points))[1]
    drawn = drawings.draw(points, BANDS, style)
    assert float(drawn.width) <= 400
    assert not any(mark.whisker for mark in drawn.marks)
    assert drawings.scale_styles(50)[1] is drawings.TALL


def test_markup_is_the_same_for_the_same_shoes_alone():
    points = [shoe(1, 45.0)]
    first = drawings.markup(points, BANDS, (drawings.WIDE,), "Shoes")
    assert drawings.markup(list(points), list(BANDS), (drawings.WIDE,), "Shoes") == first
    assert drawings.markup([shoe(1, 46.0)], BANDS, (drawings.WIDE,), "Shoes") != first


def test_names_of_shoes_are_escaped():
    nasty = ShoePoint("a", "<b>", '"&', "1", 45.0, None, 1, "Very little hold", True)
    drawn = drawings.markup([nasty], BANDS, (drawings.WIDE,), "Shoes <i>")
    assert "<b>" not in drawn
    assert "<i>" not in drawn
    assert re.search(r"&lt;b&gt; &#34;&amp; 1", drawn)
