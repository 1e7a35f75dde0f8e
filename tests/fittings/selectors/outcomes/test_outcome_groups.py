"""Groups of the outcomes from complaints added up by the day: visits, those lost, and what is compared."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fittings.domain.outcomes.clusters import PersonSums
from fittings.selectors.outcomes.courses import Counts, DayCount, PeopleCount
from fittings.selectors.outcomes.outcome_groups import compare, group_of
from fittings.selectors.outcomes.outcomes import Scope, finish

NAMES = {True: "In", False: "Out"}


def row(key, days, complaints, recurred=0, *, free_until=None, lost_open=0, entered=0):
    """Complaints watched until a day: free of it until then, or those that recurred until the start."""
    weight = complaints / max(complaints - lost_open, 1)
    return DayCount(
        key=key,
        entered=entered,
        free_until=(0 if recurred else days or 0) if free_until is None else free_until,
        days=days,
        complaints=complaints,
        recurred=recurred,
        lost_open=lost_open,
        recurred_weight=weight * recurred,
        others_weight=weight * (complaints - recurred - lost_open),
        weight_squares=weight**2 * (complaints - lost_open),
    )


def people_of(key, rows):
    """A person for each complaint of these rows, at 100 km each."""
    n, at_risk = sum(item.complaints for item in rows), sum(item.complaints for item in rows if item.days is not None)
    back, lost = sum(item.recurred for item in rows), sum(item.lost_open for item in rows)
    sums = PersonSums(at_risk, at_risk, back, 100.0 * at_risk, back, 100.0 * back, 1e4 * at_risk)
    return PeopleCount(key, n, at_risk, lost, at_risk, back, back, (0, n - at_risk, 0, 0, 0), 0, 0, sums)


def group(name, rows):
    return group_of(name, people_of(None, rows), rows)


def counted(rows):
    people = [people_of(key, [item for item in rows if key in (None, item.key)]) for key in (True, False, None)]
    return Counts(tuple(people), tuple(rows))


def shares(rows):
    return [round(item.share, 3) for item in group("All", rows).readings]


def test_recurrence_comes_between_the_last_visit_free_of_it_and_the_report():
    """Twenty people: four report at 12 weeks, known to be free at 6 or at 2 weeks only; the others until 26 weeks."""
    seen = [row(True, 84, 4, 4, free_until=42), row(True, 183, 16)]
    missed = [row(True, 84, 4, 4, free_until=14), row(True, 183, 16)]
    assert shares(seen) == [1.0, 1.0, 0.8, 0.8]
    assert shares(missed)[2:] == [0.8, 0.8]
    known, unknown = group("All", seen).readings[1], group("All", missed).readings[1]
    assert known.low > 0.8
    assert unknown.low < 0.6


def test_curve_without_a_recurrence_has_an_interval():
    reading = group("All", [row(True, 180, 6)]).readings[2]
    assert (reading.share, reading.high, reading.at_risk) == (1.0, 1.0, 6)
    assert reading.low == pytest.approx(0.025 ** (1 / 6))


def test_people_who_come_late_count_from_then_on():
    rows = [row(True, 42, 5, 5, free_until=14), row(True, 182, 5), row(True, 182, 10, entered=42)]
    assert [item.at_risk for item in group("All", rows).readings] == [10, 5, 15, 15]


def test_equal_hazards_watched_for_different_times_show_no_difference():
    """Of 200, one in ten has it back by each of 2 and 6 weeks; the second group is watched for 6 weeks only."""
    first = [
        row(True, 14, 20, 20, free_until=0),
        row(True, 42, 18, 18, free_until=14),
        row(True, 84, 32, 32, free_until=42),
        row(True, 182, 130),
    ]
    second = [row(False, 14, 20, 20, free_until=0), row(False, 42, 18, 18, free_until=14), row(False, 43, 162)]
    found = compare(group("In", first), group("Out", second))
    assert found.weeks == 6
    assert found.difference.value == pytest.approx(0, abs=1e-9)
    assert found.ratio.value == pytest.approx(1)
    assert found.mean.value == pytest.approx(0, abs=0.05)
    assert not found.too_few


def test_those_lost_are_taken_as_all_free_and_as_none_free():
    """Twenty watched to the end with five recurrences, five lost after six weeks, five never heard of."""
    rows = [
        row(True, 42, 5, 5, free_until=14),
        row(True, 45, 5, lost_open=5),
        row(True, 182, 15),
        row(True, None, 5, lost_open=5),
    ]
    whole = group("All", rows)
    loss, main = whole.loss, whole.readings[-1]
    assert (loss.weeks, loss.lost) == (26, 10)
    assert loss.best.value == pytest.approx(25 / 30)
    assert loss.worst.value == pytest.approx(15 / 30)
    assert main.share == pytest.approx(0.8)
    assert loss.worst.value < main.share < loss.best.value
    assert loss.weighted.value == pytest.approx(0.75)
    for item in (loss.best, loss.worst, loss.weighted):
        assert item.low < item.value < item.high


def test_nobody_lost_or_nobody_watched_leaves_nothing_to_show():
    assert group("All", [row(True, 182, 20)]).loss is None
    assert group("All", [row(True, None, 5, lost_open=5)]).loss is None
    assert group("All", []).loss is None


def counts(lost):
    rows = []
    for key in (True, False):
        rows += [row(key, 14, 12, 12), row(key, 42, 30), row(key, 182, 30), row(key, 45, lost, lost_open=lost)]
    return rows


def test_few_who_were_lost_are_hidden_over_stores_with_what_would_show_them():
    scope = Scope((), hides=True)
    assert all(item.loss is None for item in finish(counted(counts(4)), NAMES, scope, compares=True).groups)
    shown = finish(counted(counts(6)), NAMES, scope, compares=True)
    # Fewer than five recurrences since the second week: no main figure at the last follow-up, so no loss either.
    assert all(item.loss is None for item in shown.groups)
    own = finish(counted(counts(4)), NAMES, replace(scope, hides=False), compares=True)
    assert [item.loss.lost for item in own.groups] == [4, 4]


def test_shoe_changed_after_the_last_day_known_to_be_free_counts_no_further():
    """Six people free at six weeks changed at eleven; four of them had it back by the next visit, in the other shoe."""
    first = [row(True, 77, 6, free_until=42), row(True, 182, 6)]
    second = [row(False, 84, 4, 4, free_until=42, entered=77), row(False, 182, 8)]
    assert [item.at_risk for item in group("In", first).readings] == [12, 12, 6, 6]
    assert [item.share for item in group("Out", second).readings] == pytest.approx([1.0, 1.0, 8 / 12, 8 / 12])
    assert group("In", first).begun == 12
    assert group("Out", second).begun == 8


def test_ratio_of_rates_is_exact_for_people_and_wider_where_their_complaints_come_together():
    rows = [row(True, 84, 12, 12, free_until=42), row(True, 182, 28)]
    one = group("In", rows)
    several = replace(one, by_person=replace(one.by_person, people=20, events_squared=48.0, exposure_squared=16e5))
    other = group("Out", rows)
    exact, wide = compare(one, other).rates, compare(several, other).rates
    assert exact.value == wide.value == 1.0
    assert exact.method.startswith("exact")
    assert wide.method.endswith("widened by the robust interval by person")
    assert wide.low < exact.low < exact.high < wide.high
