"""Drawings of the outcomes: what is drawn where, and what is not drawn."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.presentation.outcomes.outcome_drawings import Interval, bar_drawing, interval_drawing

values = st.floats(-1e6, 1e6)


@given(st.lists(st.tuples(values, st.floats(0, 1e5), st.floats(0, 1e5)), min_size=1, max_size=8))
def test_marks_lie_in_order_inside_the_drawing(rows):
    drawing = interval_drawing(
        [Interval(str(i), v, v - low, v + high) for i, (v, low, high) in enumerate(rows)], axis="x", title="t"
    )
    for mark in drawing.marks:
        assert 190 - 0.1 <= float(mark.low) <= float(mark.value) + 0.1 <= float(mark.high) + 0.2 <= 624.3


def test_ratios_are_drawn_by_their_logarithm():
    drawing = interval_drawing([Interval("a", 1.0, 0.5, 2.0)], axis="x", title="t", reference=1.0, by_ratio=True)
    mark = drawing.marks[0]
    assert float(mark.high) - float(mark.value) == pytest.approx(float(mark.value) - float(mark.low), abs=0.2)
    assert drawing.reference == mark.value
    assert [tick.label for tick in drawing.ticks] == ["0.5", "1.0", "2.0"]


def test_what_has_no_limits_is_left_out():
    assert interval_drawing([Interval("a", 1.0, 0.0, float("inf"))], axis="x", title="t") is None
    assert interval_drawing([Interval("a", 1.0, 0.0, 2.0)], axis="x", title="t", by_ratio=True) is None
    assert interval_drawing([], axis="x", title="t") is None


def test_bars_stand_on_the_foot_and_say_what_they_are():
    drawing = bar_drawing(["Light", "Firm"], [("targets", [4, 0]), ("pairs", [8, 2])], title="t")
    assert len(drawing.bars) == 4
    for bar in drawing.bars:
        assert float(bar.y) + float(bar.height) == pytest.approx(float(drawing.foot), abs=0.2)
    assert drawing.bars[0].words == "Light: 4, targets"
    assert [name for _, name in drawing.series] == ["targets", "pairs"]


def test_nothing_to_draw_is_no_drawing():
    assert bar_drawing([], [("a", [])], title="t") is None
    assert bar_drawing(["x"], [("a", [0])], title="t") is None
