"""Words of the outcomes where there is enough to say, and where there is not."""

from __future__ import annotations

import datetime as dt

import pytest

from fittings import presentation
from fittings.domain.outcomes import compare_risks, rate_per_1000_km
from fittings.domain.survival import kaplan_meier, log_rank
from fittings.models import FollowUp
from fittings.selectors.outcomes import Group, Outcomes


def group(name, weeks, recurred, km=1000.0):
    return Group(
        name=name,
        people=1200,
        answered=len(weeks),
        lost=0,
        at_risk=len(weeks),
        recurrences=sum(recurred),
        km=km,
        rate=rate_per_1000_km(sum(recurred), km),
        curve=kaplan_meier(weeks, recurred),
        at_risk_after=(len(weeks), 0, 3, None),
        watched_weeks=float(max(weeks)),
    )


@pytest.fixture
def page():
    inside = ([float(week) for week in range(1, 31)], [week % 3 == 0 for week in range(1, 31)])
    outside = ([float(week) for week in range(1, 21)], [week % 2 == 0 for week in range(1, 21)])
    groups = (group("In the target", *inside), group("Outside the target", *outside, km=0.0))
    return Outcomes(
        stores=("Store A", "Store B"),
        groups=groups,
        total=groups[0],
        comparison=compare_risks((10, 10), (30, 20)),
        test=log_rank([inside, outside]),
        hides=False,
    )


def test_enough_events_are_compared_with_interval_and_method(page):
    shown = presentation.outcomes_page(page, "metric")
    assert shown.ratio == "0.67 (95 % interval 0.34 to 1.30; log scale (Katz))"
    assert shown.difference.startswith("−16.7 percentage points (95 % interval −44.")
    assert shown.difference.endswith("normal (Wald))")
    assert shown.test.startswith("χ² ")
    assert "with 1 degree of freedom, p = 0." in shown.test
    assert shown.stores == "Store A and Store B"


def test_counts_rates_and_cells_are_worded(page):
    shown = presentation.outcomes_page(page, "imperial")
    assert shown.groups[0].people == "1\xa0200"
    assert shown.groups[0].km == "621\xa0mi"
    assert shown.groups[1].rate == "no distance told"
    cells = [row.cells[0][1] for row in shown.curve_rows]
    assert cells[0].endswith("30 at risk")
    assert cells[1] == "nobody watched so long"
    assert cells[2].endswith("3 at risk")
    assert cells[3].endswith("under 5 at risk")


def test_small_p_is_not_written_as_nought(page):
    from dataclasses import replace

    strong = log_rank([([1.0] * 40, [True] * 40), ([2.0] * 40, [True] * 40)])
    assert presentation.outcomes_page(replace(page, test=strong), "metric").test.endswith("p < 0.001")
    nothing = log_rank([([1.0], [False]), ([2.0], [False])])
    assert presentation.outcomes_page(replace(page, test=nothing), "metric").test == "nothing to compare"


def test_hidden_and_not_estimable_are_said(page):
    from dataclasses import replace

    hidden = presentation.outcomes_page(replace(page, comparison=None, test=None), "metric")
    assert hidden.ratio == hidden.test == "hidden, because a count is small"
    few = presentation.outcomes_page(replace(page, comparison=compare_risks((0, 1), (5, 5))), "metric")
    assert few.ratio == few.test == "too few recurrences to say (fewer than 10 in a group)"


def test_state_of_a_follow_up_carries_a_word():
    today = dt.date(2026, 3, 1)
    now = dt.datetime(2026, 3, 1, tzinfo=dt.UTC)
    states = [
        presentation._state(FollowUp(due_on=today + dt.timedelta(days=1)), today),
        presentation._state(FollowUp(due_on=today), today),
        presentation._state(FollowUp(due_on=today, sent_at=now), today),
        presentation._state(FollowUp(due_on=today, sent_at=now, answered_at=now), today),
    ]
    assert [word for word, _ in states] == ["to come", "due", "reminded", "answered"]


def test_complaints_are_told_with_what_is_known_of_them():
    words = presentation._settled_words
    assert words(True, None) == " (there now)"
    assert words(False, None) == " (settled, day not known)"
    assert words(False, dt.date(2025, 1, 31)) == " (settled 31 January 2025)"
