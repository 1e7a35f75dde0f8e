"""The stored chart: who is judged by which limits, and that the past is never judged again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.studies.check_chart import check_chart
from labtests.domain.studies.control_chart import chart, limits_from

STEADY = [4.50, 4.53, 4.48, 4.51, 4.47, 4.52, 4.49, 4.53, 4.50, 4.48]
READINGS = st.lists(st.floats(4.0, 5.0), min_size=0, max_size=40)


@pytest.mark.parametrize("n", range(10))
def test_fewer_than_ten_points_have_no_limits(n):
    kept = check_chart(STEADY[:n])
    assert (kept.limits, kept.is_in_control, kept.points_missing) == (None, None, 10 - n)
    assert kept.limits_at == (None,) * n


def test_ten_points_are_judged_by_their_own_trial_limits():
    kept = check_chart(STEADY)
    assert kept.limits == limits_from(STEADY)
    assert kept.limits.is_trial
    assert set(kept.limits_at) == {kept.limits}
    assert kept.is_in_control


def test_wild_point_does_not_widen_the_limits_that_it_is_judged_by():
    kept = check_chart([*STEADY, 5.2])
    assert [(breach.index, breach.rule) for breach in kept.breaches] == [(10, "beyond_limits")]
    assert kept.limits_at[10] == limits_from(STEADY)


def test_limits_are_held_from_the_twentieth_point_on():
    kept = check_chart([*STEADY, *STEADY, 4.5, 4.9])
    assert kept.limits == limits_from(STEADY * 2)
    assert not kept.limits.is_trial
    assert kept.limits_at[20] == kept.limits_at[21] == kept.limits
    assert kept.limits_at[19].n == 19


def test_excluded_points_do_not_count_towards_the_limits():
    kept = check_chart([*STEADY[:5], 9.0, *STEADY[5:]], excluded=[5])
    assert kept.limits == limits_from(STEADY)
    assert kept.limits_at[5] is None
    assert kept.breaches == ()


def test_run_goes_on_across_an_excluded_point():
    above = [4.515] * 4
    kept = check_chart([*STEADY, *STEADY, *above, 9.0, *above], excluded=[24])
    assert kept.breaches[-1].points == (20, 21, 22, 23, 25, 26, 27, 28)


def test_position_that_is_not_there_is_refused():
    with pytest.raises(ValueError, match="positions from 0 to 9"):
        check_chart(STEADY, excluded=[10])
    with pytest.raises(ValueError, match="finite"):
        check_chart([float("nan")])


@given(READINGS, st.floats(3.0, 6.0))
def test_new_point_never_changes_what_was_said_before(values, new):
    before, after = check_chart(values), check_chart([*values, new])
    if before.limits is not None:
        assert [b for b in after.breaches if b.index < len(values)] == list(before.breaches)
        assert after.limits_at[: len(values)] == before.limits_at


@given(st.lists(st.floats(4.0, 5.0), min_size=21, max_size=40))
def test_points_after_the_twentieth_are_judged_as_by_the_plain_chart(values):
    kept, plain = check_chart(values), chart(values, baseline=20)
    assert [b for b in kept.breaches if b.index >= 20] == [b for b in plain.breaches if b.index >= 20]


@given(READINGS)
def test_unit_of_the_readings_does_not_matter(values):
    # Scaling by a power of two is exact, so that no rounding decides a point on the very limit.
    plain, scaled = check_chart(values), check_chart([4.0 * value for value in values])
    assert [(b.index, b.rule) for b in plain.breaches] == [(b.index, b.rule) for b in scaled.breaches]
