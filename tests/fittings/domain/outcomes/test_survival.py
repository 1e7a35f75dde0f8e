"""Kaplan-Meier and log-rank: edges and laws (published values are in tests/external)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.outcomes.survival import curve_of, life_table, log_rank_of
from tests.reference.survival import kaplan_meier, log_rank

people = st.lists(st.tuples(st.integers(0, 40), st.booleans()), min_size=1, max_size=60)


def columns(rows):
    return [row[0] for row in rows], [row[1] for row in rows]


@given(people)
def test_curve_falls_within_0_and_1_and_the_band_holds_it(rows):
    curve = kaplan_meier(*columns(rows))
    assert np.all(np.diff(curve.survival) < 0)
    assert np.all((curve.survival >= 0) & (curve.survival < 1))
    assert np.all(curve.low <= curve.survival + 1e-12)
    assert np.all(curve.high >= curve.survival - 1e-12)
    assert np.all(curve.high - curve.low > 0.01)
    assert curve.n == len(rows)
    assert curve.events_total == sum(row[1] for row in rows)


@given(people, st.integers(2, 9))
def test_another_unit_of_time_moves_only_the_times(rows, factor):
    time, event = columns(rows)
    one, other = kaplan_meier(time, event), kaplan_meier([t * factor for t in time], event)
    assert np.allclose(one.survival, other.survival)
    assert np.allclose(one.time * factor, other.time)


def test_without_censoring_the_curve_is_the_share_left():
    assert kaplan_meier([1, 2, 3, 4], [True] * 4).survival.tolist() == pytest.approx([0.75, 0.5, 0.25, 0.0])


def test_the_limits_have_a_width_where_nobody_is_left():
    curve = kaplan_meier([1, 2], [True, True])
    assert curve.low[-1] == 0.0
    assert 0.0 < curve.high[-1] < 1.0
    assert curve.standard_error[-1] == 0.0


@pytest.mark.parametrize("event", [[], [False, False]])
def test_nobody_or_no_event_gives_an_empty_curve(event):
    curve = kaplan_meier([3.0] * len(event), event)
    assert curve.time.size == 0


@pytest.mark.parametrize(
    ("duration", "event", "message"),
    [
        ([1, 2], [True], "duration and event must be of one length"),
        ([[1]], [[True]], "duration and event must be of one length"),
        ([-1.0], [True], "duration must be finite and >= 0"),
        ([np.nan], [True], "duration must be finite and >= 0"),
    ],
)
def test_malformed_people_are_refused(duration, event, message):
    with pytest.raises(ValueError, match=message):
        kaplan_meier(duration, event)


@pytest.mark.parametrize("confidence", [0.0, 1.0])
def test_impossible_confidence_is_refused(confidence):
    with pytest.raises(ValueError, match="confidence must be between 0 and 1"):
        kaplan_meier([1], [True], confidence)


def test_one_group_cannot_be_compared():
    with pytest.raises(ValueError, match="groups must be at least 2, got 1"):
        log_rank([([1], [True])])


@pytest.mark.parametrize(
    "groups",
    [
        [([1, 2], [False, False]), ([3], [False])],
        [([], []), ([3], [True])],
        [([1], [False]), ([3], [True])],
    ],
    ids=["no event", "nobody in a group", "never at risk together"],
)
def test_nothing_to_compare_gives_no_number(groups):
    found = log_rank(groups)
    assert found.chi_squared is None
    assert found.p is None


@given(people, people)
def test_log_rank_does_not_depend_on_the_order_and_expects_as_many_as_seen(one, other):
    a, b = columns(one), columns(other)
    first, second = log_rank([a, b]), log_rank([b, a])
    assert sum(first.observed) == pytest.approx(sum(first.expected))
    if first.chi_squared is not None:
        assert first.chi_squared == pytest.approx(second.chi_squared, abs=1e-9)
        assert 0 <= first.p <= 1


def test_a_group_against_itself_shows_no_difference():
    group = ([1, 2, 3, 5, 8], [True, False, True, True, False])
    assert log_rank([group, group]).chi_squared == pytest.approx(0)


@given(people)
def test_whole_days_are_counted_as_any_other_times(rows):
    time, event = columns(rows)
    one, other = life_table(np.array(time), event), life_table(np.array(time, dtype=float), event)
    for name in ("time", "left", "events"):
        assert getattr(one, name).tolist() == getattr(other, name).tolist()
    assert one.n == len(rows)


def test_times_too_spread_to_count_are_sorted():
    table = life_table(np.array([10**12, 5]), [True, False])
    assert table.time.tolist() == [5.0, 1e12]


def test_log_rank_of_one_table_is_refused():
    with pytest.raises(ValueError, match="at least 2, got 1"):
        log_rank_of([life_table([1], [True])])
    with pytest.raises(ValueError, match="confidence"):
        curve_of(life_table([1], [True]), 1.0)
