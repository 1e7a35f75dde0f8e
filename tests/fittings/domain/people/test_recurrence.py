"""A complaint that comes back: region, side, and the time since it had settled."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.people.recurrence import Pain, PainDay, add_months, find_recurrence, free_of, recurrence_class
from fittings.domain.regions import Complaint

FITTED = date(2025, 2, 10)
HEEL = Complaint("heel", "left", False, date(2025, 1, 31))
days = st.dates(date(2000, 1, 1), date(2050, 1, 1))


def find(complaint, on, *pains, earlier=()):
    return find_recurrence([complaint], PainDay(on, tuple(pains)), fitted_on=FITTED, earlier=earlier)


def test_same_region_and_side_is_a_recurrence():
    found = find(HEEL, date(2025, 3, 31), Pain("heel", "left", 2))
    assert found.kind == "early"
    assert found.reasoning == "Heel, left: settled on 2025-01-31, reported on 2025-03-31: early recurrence."


@pytest.mark.parametrize(
    "pain",
    [Pain("heel", "right", 5), Pain("foot", "left", 5), Pain("heel", "left", 0)],
    ids=["side", "region", "score 0"],
)
def test_other_side_other_region_or_no_pain_is_none(pain):
    found = find(HEEL, date(2025, 3, 31), pain)
    assert found.kind is None
    assert found.reasoning == "Nothing from the history was reported again."


@pytest.mark.parametrize(
    ("told", "reported"), [("left", "both"), ("both", "right"), (None, "left"), ("right", None), (None, None)]
)
def test_a_side_not_stated_or_both_matches_either(told, reported):
    assert (
        find(Complaint("heel", told, False, date(2025, 1, 31)), date(2025, 3, 1), Pain("heel", reported, 1)).kind
        == "early"
    )


def test_before_it_had_settled_nothing_recurs_and_the_reasoning_says_so():
    found = find(Complaint("heel", None, False, date(2025, 6, 1)), date(2025, 5, 1), Pain("heel", None, 4))
    assert found.kind is None
    assert "before it had settled, no recurrence" in found.reasoning


def test_settling_day_not_known_is_counted_from_the_fitting_and_said_so():
    found = find(Complaint("heel"), date(2025, 4, 11), Pain("heel", None, 4))
    assert found.kind == "late"
    assert "day of settling not known, counted from the fitting on 2025-02-10" in found.reasoning


def test_pain_still_there_since_the_fitting_has_not_come_back():
    found = find(Complaint("heel", "left", now=True), date(2025, 4, 11), Pain("heel", "left", 4))
    assert found.kind is None
    assert "still there since the fitting" in found.reasoning


def test_pain_there_at_the_fitting_settles_at_the_first_follow_up_without_it():
    told = Complaint("heel", "left", now=True)
    earlier = (
        PainDay(date(2025, 5, 5), ()),
        PainDay(date(2025, 2, 24), (Pain("heel", "left", 3),)),
        PainDay(date(2025, 3, 24), (Pain("heel", "left", 0), Pain("knee", "left", 2))),
    )
    found = find(told, date(2025, 5, 24), Pain("heel", "left", 4), earlier=earlier)
    assert found.kind == "early"
    assert "free of it at the follow-up of 2025-03-24" in found.reasoning


def test_soonest_class_leads_and_every_reasoning_is_kept():
    history = [Complaint("heel", None, False, date(2023, 1, 1)), Complaint("knee", None, False, date(2025, 1, 1))]
    report = PainDay(date(2025, 2, 20), (Pain("heel", None, 1), Pain("knee", None, 1)))
    found = find_recurrence(history, report, fitted_on=FITTED)
    assert found.kind == "early"
    assert "delayed recurrence" in found.reasoning
    assert "early recurrence" in found.reasoning


def test_no_history_means_no_recurrence():
    assert find_recurrence([], PainDay(FITTED, (Pain("heel", None, 9),)), fitted_on=FITTED).kind is None


@given(days, st.integers(0, 60))
def test_months_later_keeps_the_day_or_ends_the_month(start, months):
    later = add_months(start, months)
    assert (later.year * 12 + later.month) - (start.year * 12 + start.month) == months
    assert later.day == start.day or (later.day < start.day and add_months(later, 0).day >= 28)


def test_months_may_not_be_negative():
    with pytest.raises(ValueError, match="months must be >= 0, got -1"):
        add_months(FITTED, -1)


@given(days, days, days)
def test_waiting_longer_never_makes_a_recurrence_sooner(settled, one, other):
    order = [None, "early", "late", "delayed"]
    first, second = sorted((one, other))
    assert order.index(recurrence_class(settled, first)) <= order.index(recurrence_class(settled, second))


@pytest.mark.parametrize(
    ("pains", "nothing_hurts", "expected"),
    [
        ((), None, None),
        ((), True, True),
        ((), False, None),
        ((Pain("heel", "left", 0),), None, None),
        ((Pain("heel", "left", 0), Pain("knee", "left", 0)), None, True),
        ((Pain("heel", "left", 0),), True, True),
        ((Pain("toes", "left", 2),), None, None),
        ((Pain("heel", "left", 2),), None, False),
    ],
    ids=["nothing", "none hurts", "some place", "one of two", "both", "zero and none", "elsewhere", "one of them"],
)
def test_free_is_known_only_where_the_answer_says_so(pains, nothing_hurts, expected):
    told = [Complaint("heel", "left"), Complaint("knee", "left")]
    day = PainDay(FITTED, pains, nothing_hurts)
    assert free_of(told, day) is expected
    assert day.assessed is (bool(pains) or nothing_hurts is not None)


def test_pain_not_answered_is_no_recurrence_and_said_so():
    found = find(HEEL, date(2025, 3, 31))
    assert found.kind is None
    assert "not answered" in found.reasoning


def test_free_means_that_none_of_the_complaints_is_reported():
    told = [Complaint("heel", "left"), Complaint("knee")]
    assert free_of(told, PainDay(FITTED, (Pain("heel", "left", 0), Pain("heel", "right", 3), Pain("knee", None, 0))))
    assert free_of(told, PainDay(FITTED, (Pain("heel", "right", 3), Pain("knee", None, 0)))) is None
    assert not free_of(told, PainDay(FITTED, (Pain("knee", "left", 1),)))
    assert free_of([], PainDay(FITTED, (Pain("heel", None, 9),)))
