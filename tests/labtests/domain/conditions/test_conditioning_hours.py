"""Hours of conditioning from the chambers' log: what counts, what does not, and what holds a test.

The figures of the rule (1 h of handling, 0.5 h of tolerance) are common practice, no source.
"""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.conditions.conditioning import (
    CLAIM_TOLERANCE_H,
    HOUR,
    MOST_OUT_H,
    Stay,
    check_against_log,
    conditioning_from_log,
    hours_between,
    ready_at,
    unbroken_run,
)

TEST_AT = dt.datetime(2026, 3, 4, 10, 15, tzinfo=dt.UTC)


def stay(in_h, out_h=None, *, entry=1, chamber="C-1"):
    """A stay from `in_h` to `out_h` hours before the test; open where `out_h` is None."""
    return Stay(entry, chamber, TEST_AT - in_h * HOUR, None if out_h is None else TEST_AT - out_h * HOUR)


def asked(*stays, window_h=48.0):
    return conditioning_from_log(stays, at=TEST_AT, window_h=window_h)


def test_open_stay_counts_up_to_the_test():
    logged = asked(stay(50.2))
    assert logged.hours == pytest.approx(50.2)
    assert logged.out_h == 0.0
    assert check_against_log(logged, [50.2]) == ()


def test_stay_that_ended_after_the_test_counts_up_to_the_test():
    assert asked(stay(50.0, -3.0)).hours == pytest.approx(50.0)


def test_handling_between_chamber_and_test_counts_neither_way():
    logged = asked(stay(50.0, 1.0))
    assert logged.hours == pytest.approx(49.0)
    assert check_against_log(logged, [49.0]) == ()


def test_longer_out_takes_hours_away_and_holds_whatever_is_left():
    logged = asked(stay(80.0, 4.0))
    assert logged.hours == pytest.approx(76.0 - 3.0)
    (reason,) = check_against_log(logged, [73.0])
    assert reason.code == "conditioning_lapsed"
    assert reason.message == ("the specimen was taken out of chamber C-1 4.00 h before the test; accepted: at most 1 h")


def test_hours_never_fall_below_none():
    assert asked(stay(22.0, 20.0)).hours == 0.0


def test_stay_before_the_claimed_hours_does_not_speak_of_the_test():
    assert asked(stay(200.0, 60.0), window_h=50.2) is None
    assert asked(stay(200.0, 60.0), window_h=72.0) is not None


def test_stay_that_begins_at_or_after_the_test_does_not_speak_of_it():
    assert asked(stay(0.0)) is None
    assert asked(stay(-5.0)) is None
    assert asked() is None


def test_two_chambers_within_the_handling_time_are_one_conditioning():
    logged = asked(stay(50.0, 20.5, entry=1), stay(20.0, 0.2, entry=2, chamber="C-2"))
    assert logged.hours == pytest.approx(29.5 + 19.8)
    assert [one.entry for one in logged.stays] == [1, 2]
    assert (logged.last.chamber, logged.since) == ("C-2", TEST_AT - 50 * HOUR)


def test_longer_break_starts_the_count_again():
    logged = asked(stay(100.0, 31.5, entry=1), stay(30.0, 0.1, entry=2))
    assert logged.hours == pytest.approx(29.9)
    assert [one.entry for one in logged.stays] == [2]


def test_break_of_exactly_the_handling_time_is_no_break():
    assert len(asked(stay(60.0, 20.0 + MOST_OUT_H), stay(20.0)).stays) == 2


@pytest.mark.parametrize(
    ("claim", "is_held"), [(50.2, False), (50.7, False), (49.7, False), (50.71, True), (49.6, True), (0.0, True)]
)
def test_claim_may_differ_by_rounding_only(claim, is_held):
    reasons = check_against_log(asked(stay(50.2), window_h=60.0), [claim])
    assert [reason.code for reason in reasons] == (["conditioning_differs"] if is_held else [])


def test_difference_is_reported_with_both_values_for_the_claim_farthest_off():
    (reason,) = check_against_log(asked(stay(26.0)), [26.2, 50.2, 26.0])
    assert reason.message == (
        "the conditioning log gives 26.00 h, the file claims 50.20 h; they may differ by 0.5 h at most"
    )


def test_lapsed_and_different_are_both_reported():
    codes = [reason.code for reason in check_against_log(asked(stay(60.0, 10.0)), [60.0])]
    assert codes == ["conditioning_lapsed", "conditioning_differs"]


def test_ready_time_counts_the_stays_before():
    assert ready_at([stay(10.0)], required_h=48.0) == TEST_AT + 38 * HOUR
    run = unbroken_run([stay(40.0, 10.5, entry=1), stay(10.0, entry=2)], at=TEST_AT)
    assert ready_at(run, required_h=48.0) == TEST_AT + (48.0 - 29.5 - 10.0) * HOUR


def test_more_than_enough_before_is_ready_at_once():
    run = unbroken_run([stay(90.0, 10.5, entry=1), stay(10.0, entry=2)], at=TEST_AT)
    assert ready_at(run, required_h=48.0) == TEST_AT - 10 * HOUR


def test_what_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="window_h must be ≥ 0, got -1"):
        asked(stay(50.0), window_h=-1.0)
    with pytest.raises(ValueError, match="window_h must be ≥ 0, got nan"):
        asked(stay(50.0), window_h=float("nan"))
    with pytest.raises(ValueError, match="run must hold ≥ 1 stay"):
        ready_at([], required_h=48.0)
    with pytest.raises(ValueError, match="required_h must be ≥ 0"):
        ready_at([stay(1.0)], required_h=-1.0)


def test_offsets_do_not_matter():
    local = dt.timezone(dt.timedelta(hours=5, minutes=30))
    here = Stay(1, "C-1", (TEST_AT - 50 * HOUR).astimezone(local), (TEST_AT - HOUR / 2).astimezone(local))
    assert asked(here).hours == pytest.approx(49.5)


hours = st.floats(0.01, 500.0)


@given(lain=hours, out=st.floats(0.0, 500.0))
def test_law_more_time_out_never_gives_more_hours(lain, out):
    one = asked(stay(lain + out, out), window_h=1000.0)
    later = asked(stay(lain + out + 1.0, out + 1.0), window_h=1000.0)
    assert 0.0 <= later.hours <= one.hours + 1e-6
    assert one.hours <= lain + 1e-6


@given(cut=st.floats(0.05, 0.95), lain=st.floats(2.0, 100.0))
def test_law_moving_without_a_break_changes_nothing(cut, lain):
    moved = cut * lain
    whole = asked(stay(lain))
    parts = asked(stay(moved, entry=2), stay(lain, moved, entry=1))
    assert parts.hours == pytest.approx(whole.hours, abs=1e-6)
    # Ready before the second stay began means ready from its beginning.
    expected = max(ready_at(whole.stays, required_h=48.0), parts.last.in_at)
    assert abs(ready_at(parts.stays, required_h=48.0) - expected) < dt.timedelta(seconds=1)


@given(lain=hours, off=st.floats(-3.0, 3.0))
def test_law_held_for_a_difference_only_beyond_the_tolerance(lain, off):
    claim = max(0.0, lain + off)
    logged = asked(stay(lain), window_h=1000.0)
    codes = [reason.code for reason in check_against_log(logged, [claim])]
    assert ("conditioning_differs" in codes) == (abs(claim - logged.hours) > CLAIM_TOLERANCE_H + 1e-9)


def test_hours_between_is_exact_to_the_second():
    assert hours_between(TEST_AT, TEST_AT + dt.timedelta(seconds=36)) == pytest.approx(0.01)
