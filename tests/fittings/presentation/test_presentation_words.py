"""Words of the outcomes where there is enough to say, and where there is not."""

from __future__ import annotations

import datetime as dt

import pytest

from fittings.domain.outcomes.rates import compare_risks, rate_per_1000_km
from fittings.domain.outcomes.survival import kaplan_meier, log_rank
from fittings.models import FollowUp
from fittings.presentation import fittings as presentation
from fittings.presentation import outcomes as outcome_presentation
from fittings.selectors.outcomes import Group, Outcomes, Reading


def group(name, weeks, recurred, km=1000.0):
    return Group(
        name=name,
        people=1200,
        answered=len(weeks),
        lost=0,
        at_risk=len(weeks),
        back=sum(recurred),
        recurrences=sum(recurred),
        left_out=(0, 0, 0, 0, 0),
        without_km=0,
        visits=0,
        visits_open=0,
        km=km,
        rate=rate_per_1000_km(sum(recurred), km),
        curve=kaplan_meier(weeks, recurred),
        readings=(
            Reading(0.9, 0.8, 0.95, len(weeks), 3),
            Reading(0.9, 0.8, 0.95, 0, 3),
            Reading(0.5, float("nan"), float("nan"), None, 8),
            None,
        ),
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
        rounds=False,
    )


def test_enough_events_are_compared_with_interval_and_method(page):
    shown = outcome_presentation.outcomes_page(page, "metric")
    assert shown.ratio == "0.67 (95 % interval 0.34 to 1.30; log scale (Katz))"
    assert shown.difference.startswith("−16.7 percentage points (95 % interval −44.")
    assert shown.difference.endswith("normal (Wald))")
    assert shown.test.startswith("χ² ")
    assert "with 1 degree of freedom, p = 0." in shown.test
    assert shown.stores == "Store A and Store B"


def test_counts_rates_and_cells_are_worded(page):
    shown = outcome_presentation.outcomes_page(page, "imperial")
    assert shown.groups[0].people == "1\xa0200"
    assert shown.groups[0].km == "621\xa0mi"
    assert shown.groups[1].rate == "no distance known"
    cells = [row.cells[0][1] for row in shown.curve_rows]
    assert cells == [
        "90\xa0% (80 to 95), 30 at risk",
        "nobody watched so long",
        "50\xa0%, hidden at risk",
        "hidden",
    ]


def test_small_p_is_not_written_as_nought(page):
    from dataclasses import replace

    strong = log_rank([([1.0] * 40, [True] * 40), ([2.0] * 40, [True] * 40)])
    assert outcome_presentation.outcomes_page(replace(page, test=strong), "metric").test.endswith("p < 0.001")
    nothing = log_rank([([1.0], [False]), ([2.0], [False])])
    assert outcome_presentation.outcomes_page(replace(page, test=nothing), "metric").test == "nothing to compare"


def test_hidden_and_not_estimable_are_said(page):
    from dataclasses import replace

    hidden = outcome_presentation.outcomes_page(replace(page, comparison=None, test=None, hides=True), "metric")
    assert hidden.ratio == hidden.test == "hidden, because a count is small"
    few = tuple(replace(item, recurrences=count) for item, count in zip(page.groups, (0, 1), strict=True))
    rare = replace(page, groups=few, comparison=compare_risks((0, 1), (5, 5)))
    shown = outcome_presentation.outcomes_page(rare, "metric")
    assert shown.ratio == shown.test == "too few recurrences to say (fewer than 10 in a group)"


def test_hidden_counts_stand_as_hidden_in_the_row(page):
    from dataclasses import replace

    nothing = dict.fromkeys(("people", "lost", "at_risk", "recurrences", "km", "rate", "curve"))
    row = outcome_presentation.group_line(replace(page.groups[0], readings=(), **nothing), "metric")
    assert (row.people, row.answered) == ("hidden", "30")
    assert {row.lost, row.at_risk, row.recurrences, row.km, row.rate, row.half} == {"hidden"}


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
