"""Words of the outcomes where there is enough to say, and where there is not."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fittings.domain.outcomes.clusters import PersonSums
from fittings.domain.outcomes.comparisons import Estimate
from fittings.domain.outcomes.onset import OnsetTest
from fittings.domain.outcomes.rates import rate_per_1000_km
from fittings.domain.outcomes.restricted_mean import RestrictedMean
from fittings.models import FollowUp
from fittings.presentation.fitting import fittings as presentation
from fittings.presentation.outcomes import outcomes as outcome_presentation
from fittings.selectors.outcomes.outcome_groups import Group, Loss, Reading, compare
from fittings.selectors.outcomes.outcomes import Outcomes
from tests.reference.survival import log_rank


def group(name, events, at_risk, km=1000.0):
    mean = RestrictedMean(12.0, 10.0, 0.5, 9.0, 11.0, 0.95)
    return Group(
        name=name,
        people=1200,
        answered=at_risk,
        lost=0,
        at_risk=at_risk,
        back=events,
        recurrences=events,
        left_out=(0, 0, 0, 0, 0, 0),
        without_km=0,
        visits=0,
        visits_open=0,
        km=km,
        rate=rate_per_1000_km(events, km),
        by_person=PersonSums(at_risk, at_risk, events, km, events, km / at_risk * events, km**2 / at_risk),
        begun=at_risk,
        readings=(
            Reading(0.9, 0.8, 0.95, at_risk, 3),
            Reading(0.9, 0.8, 0.95, 0, 3),
            Reading(1 - events / at_risk, 0.5, 0.8, at_risk - events, events, mean),
            None,
        ),
    )


@pytest.fixture
def page():
    groups = (group("In the target", 10, 30), group("Outside the target", 10, 20, km=500.0))
    return Outcomes(
        stores=("Store A", "Store B"),
        groups=groups,
        total=groups[0],
        comparison=compare(*groups),
        test=OnsetTest((1.5, -1.5), 2.25, 1, 0.1336),
        day_test=log_rank([([1.0, 3.0], [True, True]), ([2.0, 4.0], [True, True])]),
        hides=False,
    )


def statements(page):
    return {item.name: item for item in outcome_presentation.outcomes_page(page, "metric").statements}


def test_enough_events_are_compared_at_a_common_follow_up_with_interval_sentence_and_method(page):
    found = statements(page)
    difference = found["Difference by week 12"]
    assert difference.value == "−16.7 percentage points (−30.0 to 17.7)"
    assert difference.sentence.startswith("Of 100 complaints of people who chose in their target, about 17 fewer were")
    assert "Newcombe" in difference.how
    assert found["Ratio by week 12"].value.startswith("0.67 (")
    rates = found["Ratio over the same distance"]
    assert rates.value == "0.50 (0.19 to 1.34), p = 0.184"
    assert "0.50 times as many recurrences" in rates.sentence
    assert found["Time free of the complaint by week 12"].value == "0.0 weeks (−1.4 to 1.4)"
    test = found["Could it be chance?"]
    assert test.value == "p = 0.134"
    assert "in about 13 of 100 such comparisons" in test.sentence
    assert "χ² 2.25 with 1 degree of freedom" in test.how
    assert outcome_presentation.outcomes_page(page, "metric").stores == "Store A and Store B"


def test_hidden_counts_are_said_in_one_sentence(page):
    hidden = replace(page.groups[0], people=None, at_risk=None, lost=None)
    words = outcome_presentation.n_words(hidden)
    assert words == "How many people these figures are based on is hidden, because a count is small"
    assert "hidden of them at risk" in outcome_presentation.n_words(replace(hidden, people=40))


def test_counts_rates_and_cells_are_worded(page):
    groups = (page.groups[0], replace(page.groups[1], rate=rate_per_1000_km(0, 0.0)))
    shown = outcome_presentation.outcomes_page(replace(page, groups=groups), "imperial")
    assert shown.groups[0].people == "1200"
    assert shown.groups[0].km == "621\xa0mi"
    assert shown.groups[1].rate == "no distance known"
    cells = [row.cells[0][1] for row in shown.curve_rows]
    assert cells == [
        "90\xa0% (80 to 95), 30 complaints at risk",
        "nobody was followed that long",
        "67\xa0% (50 to 80), 20 complaints at risk",
        "hidden",
    ]


def test_a_group_that_all_had_it_back_was_watched(page):
    everyone = replace(page.groups[0], readings=(Reading(0.0, 0.0, 0.3, 0, 30), *page.groups[0].readings[1:]))
    shown = outcome_presentation.outcomes_page(replace(page, groups=(everyone, page.groups[1])), "metric")
    assert shown.curve_rows[0].cells[0][1] == "0\xa0% (0 to 30), 0 complaints at risk"


def test_small_p_is_not_written_as_nought(page):
    strong = statements(replace(page, test=OnsetTest((9.0, -9.0), 30.0, 1, 4e-8)))["Could it be chance?"]
    assert strong.value == "p < 0.001"
    assert "fewer than 1 of 100" in strong.sentence
    nothing = statements(replace(page, test=OnsetTest((0.0, 0.0), None, 1, None)))["Could it be chance?"]
    assert nothing.value == "nothing to compare"


def test_hidden_and_not_estimable_are_said(page):
    hidden = statements(replace(page, comparison=None, test=None, day_test=None, hides=True))
    assert {item.value for item in hidden.values()} == {"hidden, because a count is small"}
    few = tuple(group(item.name, count, 20) for item, count in zip(page.groups, (0, 1), strict=True))
    rare = statements(replace(page, groups=few, comparison=compare(*few)))
    assert {item.value for item in rare.values()} == {"too few recurrences to say (fewer than 10 in a group)"}


def test_groups_that_are_not_targets_have_a_test_alone(page):
    assert list(statements(replace(page, comparison=None, compares=False))) == ["Could it be chance?"]


def test_groups_without_a_common_follow_up_say_so(page):
    groups = (page.groups[0], replace(page.groups[1], readings=(None,) * 4))
    found = statements(replace(page, groups=groups, comparison=compare(*groups)))
    assert found["Difference"].value == "no follow-up up to which five complaints of each group are watched"


def test_those_lost_are_shown_as_best_worst_and_weighted(page):
    share = Estimate(0.7, 0.5, 0.85, "")
    loss = Loss(12, 7, share, replace(share, value=0.4, low=0.2), Estimate(None, None, None, "", "nobody"))
    shown = outcome_presentation.outcomes_page(
        replace(page, groups=(replace(page.groups[0], loss=loss), page.groups[1])), "metric"
    )
    line = shown.losses[0]
    assert (line.name, line.lost, line.weeks) == ("In the target", "7", "12 weeks")
    assert (line.main, line.best) == ("67\xa0% (50 to 80)", "70\xa0% (50 to 85)")
    assert (line.worst, line.weighted) == ("40\xa0% (20 to 85)", "nobody")


def test_hidden_counts_stand_as_hidden_in_the_row(page):
    nothing = dict.fromkeys(("people", "lost", "at_risk", "recurrences", "km", "rate"))
    row = outcome_presentation.group_line(replace(page.groups[0], readings=(), **nothing), "metric")
    assert (row.people, row.answered) == ("hidden", "30")
    assert {row.lost, row.at_risk, row.recurrences, row.km, row.rate} == {"hidden"}


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
