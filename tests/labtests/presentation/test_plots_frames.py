"""Frames of charts: round ticks that enclose everything, places inside the frame, words in the reader's units."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.bands import Band
from labtests.domain.studies.check_chart import check_chart
from labtests.forms.quantities import DEFLECTION, PLAIN, STABILITY, STUDIED, TORQUE, WORN, significant
from labtests.models import CheckQuantity
from labtests.presentation.plots import plot_of, tick_labels, ticks_around
from labtests.presentation.studies.check_shoes import chart_sheet
from labtests.presentation.studies.precision import precision_sheet
from labtests.presentation.studies.studies import StudyReading, study_sheet
from labtests.presentation.studies.wear import wear_sheet
from labtests.selectors.studies.check_shoes import CheckPoint, CheckSeries
from labtests.selectors.studies.precision import Level
from labtests.selectors.studies.wear import WearPoint

MOMENT = dt.datetime(2026, 3, 4, tzinfo=dt.UTC)
BANDS = (Band(1, "Very little hold", None, 50.0), Band(2, "Little hold", 50.0, None))

VALUES = st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=20)


@given(VALUES)
def test_ticks_enclose_all_values_and_are_few(values):
    ticks = ticks_around(values)
    assert ticks == sorted(set(ticks))
    slack = 1e-9 * max(map(abs, values), default=0.0) + 1e-9
    assert ticks[0] <= min(values) + slack
    assert ticks[-1] >= max(values) - slack
    assert 2 <= len(ticks) <= 9


@given(st.lists(st.floats(0.0, 1e6), min_size=1, max_size=20))
def test_ticks_of_what_cannot_be_negative_never_are(values):
    assert ticks_around(values)[0] >= 0.0


@pytest.mark.parametrize("values", [[5.0], [0.0], [-3.0, -3.0]])
def test_equal_values_still_get_a_frame(values):
    assert len(ticks_around(values)) >= 2


@given(VALUES, VALUES)
def test_everything_is_drawn_inside_the_frame(xs, ys):
    n = min(len(xs), len(ys))
    plot = plot_of("t", ("x", "y"), xs[:n], ys[:n])
    for x, y in zip(xs[:n], ys[:n], strict=True):
        plot.mark(x, y, "m")
    for mark in plot.marks:
        assert plot.left - 0.1 <= float(mark.x) <= plot.right + 0.1
        assert plot.top - 0.1 <= float(mark.y) <= plot.bottom + 0.1


def test_only_what_breaks_a_rule_is_a_diamond():
    plot = plot_of("t", ("x", "y"), [0, 1], [0, 1])
    plot.mark(0, 0, "plain")
    plot.mark(1, 1, "odd", css="dot dot--out")
    assert [bool(mark.diamond) for mark in plot.marks] == [False, True]


def test_named_places_are_labelled_by_their_names():
    plot = plot_of("t", ("rig", "y"), (), [1.0, 2.0], names=["A", "B"])
    assert [tick.label for tick in plot.x_ticks] == ["A", "B"]


@pytest.mark.parametrize(
    ("value", "answer"),
    [
        (None, "–"),
        (0.0, "0"),
        (-1234.5678, "−1235"),
        (4.782e-05, "0.00004782"),
        (132900.0, "132900"),
        (1e-12, "1.000e−12"),
        (5.5, "5.500"),
        (1234.0, "1234"),
    ],
)
def test_significant_digits_are_written_plainly(value, answer):
    assert significant(value) == answer


@pytest.mark.parametrize("values", [[0.0, 5e-324], [-1e-310, 1e-310]])
def test_a_range_too_small_to_divide_still_gets_a_frame(values):
    ticks = ticks_around(values)
    assert ticks[0] <= min(values) < max(values) <= ticks[-1]


@pytest.mark.parametrize(
    ("values", "answer"),
    [
        ([5.38, 5.4, 5.5], ["5.38", "5.40", "5.50"]),
        ([-100.0, 0.0, 100.0], ["−100", "0", "100"]),
        ([-1e-7, 0.0, 2e15], ["−1e−07", "0", "2e+15"]),
    ],
)
def test_numbers_of_an_axis_have_the_same_decimals(values, answer):
    assert tick_labels(values) == answer


def test_grubbs_and_its_limits_are_distinguished_for_three_rigs():
    level = Level("one", {"A": [1.0, 1.01], "B": [1.0, 1.02], "C": [1.5, 1.51]})
    sheet = precision_sheet([level], TORQUE, "metric").levels[0]
    answer = next(words for words in sheet.words if words.startswith("Grubbs"))
    assert "limits: 1.154 at 5 %, 1.155 at 1 %" in answer or "limits: 1.155 at 5 %, 1.155 at 1 %" in answer
    assert "(95\xa0%: " in dict(sheet.facts)["Repeatability, same rig"]


def test_readings_are_written_in_the_reader_s_unit():
    assert TORQUE.shown(5.1, "metric") == "5.100\xa0N·m"
    assert TORQUE.shown(5.1, "imperial") == "45.14\xa0in·lbf"
    assert DEFLECTION.axis("imperial") == "heel deflection, in"
    assert STABILITY.shown(61.25, "metric") == "61.2"
    assert STABILITY.shown(None, "metric") == "–"


@pytest.mark.parametrize("quantity", [*STUDIED.values(), *WORN.values()])
def test_scale_turns_kept_values_into_the_reader_s(quantity):
    for system in ("metric", "imperial"):
        assert quantity.converted(2.0, system) == pytest.approx(2.0 * quantity.scale(system))


ANY = st.floats(-1e15, 1e15) | st.sampled_from([0.0, 1.0, 1.0 + 2e-16, 1e-200, -1e-300, 5.0])


@given(st.integers(2, 4), st.integers(2, 3), st.data())
def test_any_balanced_study_is_shown_or_refused_in_words(parts, operators, data):
    cells = [(f"p{p}", f"o{o}") for p in range(parts) for o in range(operators) for _ in range(2)]
    readings = [StudyReading(part, operator, data.draw(ANY)) for part, operator in cells]
    try:
        sheet = study_sheet(readings, PLAIN, "metric")
    except ValueError as problem:
        sheet, answer = None, str(problem)
    if sheet is None:
        assert "equal" in answer
    else:
        assert sheet.n == len(cells)
        assert len(sheet.plot.marks) == len(cells)


@given(st.dictionaries(st.sampled_from("ABCD"), st.lists(ANY, min_size=1, max_size=4), min_size=1))
def test_any_comparison_is_shown_or_refused_in_words(results):
    (level,) = precision_sheet([Level("one", results)], PLAIN, "metric").levels
    assert bool(level.problem) != bool(level.rigs)


@given(st.lists(st.tuples(st.floats(0.0, 5000.0), st.floats(-500.0, 500.0)), max_size=8))
def test_any_wear_series_is_shown(rows):
    points = [
        WearPoint(n, MOMENT, km, True, "rig-1", {"stability": value}) for n, (km, value) in enumerate(sorted(rows))
    ]
    sheet = wear_sheet(points, STABILITY, BANDS, "imperial")
    assert sheet.words
    assert sheet.is_enough == (sheet.trend is not None)


@given(st.lists(st.floats(0.0, 100.0), max_size=40), st.sets(st.integers(0, 39)))
def test_any_check_chart_is_shown(values, cleared):
    points = tuple(CheckPoint(n, MOMENT, "someone", value, n in cleared) for n, value in enumerate(values))
    kept = check_chart(values, excluded=[n for n in cleared if n < len(values)])
    sheet = chart_sheet(CheckSeries(CheckQuantity.TORQUE, points, kept), "metric", {})
    assert sheet.n == len(sheet.rows) == len(values)
    assert {row.word for row in sheet.rows} <= {"no limits yet", "cleared", "breaks a rule", "in control"}
