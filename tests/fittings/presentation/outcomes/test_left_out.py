"""Who is left out, in words; small counts stay hidden."""

from __future__ import annotations

from dataclasses import replace

from fittings.presentation.outcomes.left_out import left_out_lines
from fittings.presentation.outcomes.outcomes import GROUP_COLUMNS, group_rows
from fittings.selectors.outcomes.outcomes import Outcomes
from tests.fittings.presentation.outcomes.test_presentation_words import group

ALL = group("All", 10, 30)


def words(total):
    return [f"{line.count} {line.why}" for line in left_out_lines(total)]


def test_nobody_left_out_needs_no_words():
    assert words(ALL) == []


def test_each_reason_is_named_with_its_people():
    total = replace(ALL, left_out=(7, 0, 1, 0, 0, 0), without_km=12, visits=1300, visits_open=6)
    no_complaint, not_said, distance, visits = words(total)
    assert no_complaint == "7 people had no complaint that could come back: not at risk"
    assert not_said.startswith("1 person answered, but never said whether the complaint was there")
    assert distance.startswith("12 people at risk did not say how far")
    assert visits.startswith("6 of 1300 follow-ups")


def test_hidden_counts_are_named_without_a_number():
    hidden = replace(ALL, left_out=(None, 20, None, None, None, 0), without_km=None, visits=40, visits_open=None)
    lines = words(hidden)
    assert [line.split(" ", 1)[0] for line in lines] == ["A", "20", "A", "A", "A", "A", "A"]
    assert words(replace(hidden, visits=None))[-1].startswith("A hidden number of follow-ups don’t say")


def test_csv_has_what_is_left_out():
    total = replace(ALL, left_out=(7, 0, 1, 0, 0, 0), without_km=2, visits=30, visits_open=6)
    rows = group_rows(Outcomes((), (replace(ALL, left_out=(None,) * 6),), total, None, None, None, hides=True))
    assert [len(row) for row in rows] == [len(GROUP_COLUMNS)] * 2
    first = GROUP_COLUMNS.index("left_out")
    assert rows[0][first : first + 4] == ["hidden", 0, 0, 0]
    assert rows[1][first : first + 4] == [8, 2, 30, 6]
