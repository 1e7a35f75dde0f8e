"""Control chart: limits, run rules, what is left out (published values are in tests/external)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.studies.control_chart import (
    MIN_POINTS,
    RULE_WORDS,
    WESTERN_ELECTRIC,
    Limits,
    RunRule,
    chart,
    judge,
    limits_from,
)

UNIT = Limits(n=30, centre=0.0, mean_moving_range=1.128, sigma=1.0, lower=-3.0, upper=3.0, is_trial=False)
QUIET = [0.0, 1.0] * 5
readings = st.lists(st.integers(-400, 400).map(lambda n: n / 100), min_size=MIN_POINTS, max_size=60)


def brute(values, needed, window, sigmas):
    """The zone rules in the plainest way: at a point beyond the line, count those beyond it on its side."""
    flags = []
    for end, value in enumerate(values):
        last = values[max(0, end - window + 1) : end + 1]
        up = value > sigmas and sum(v > sigmas for v in last) >= needed
        down = value < -sigmas and sum(v < -sigmas for v in last) >= needed
        flags.append(up or down)
    return flags


@given(st.lists(st.integers(-400, 400).map(lambda n: n / 100), max_size=60))
def test_rules_flag_what_plain_counting_flags(values):
    for rule, pattern in {
        RunRule.BEYOND_LIMITS: (1, 1, 3.0),
        RunRule.TWO_OF_THREE: (2, 3, 2.0),
        RunRule.FOUR_OF_FIVE: (4, 5, 1.0),
        RunRule.EIGHT_ON_ONE_SIDE: (8, 8, 0.0),
    }.items():
        broken = {breach.index for breach in judge(values, UNIT, rules=[rule])}
        assert [place in broken for place in range(len(values))] == brute(values, *pattern)


@given(readings, st.sampled_from([0.5, 2.0, -4.0]), st.integers(-50, 50))
def test_another_unit_changes_no_verdict(values, factor, shift):
    plain = chart(values, rules=tuple(RunRule))
    other = chart([factor * (value + shift) for value in values], rules=tuple(RunRule))
    if plain.limits.sigma > 0.0:
        assert other.limits.sigma == pytest.approx(abs(factor) * plain.limits.sigma)
        assert other.limits.centre == pytest.approx(factor * (plain.limits.centre + shift), abs=1e-9)
    steep = {(breach.rule, breach.index) for breach in plain.breaches if not near_a_line(values, plain.limits)}
    assert steep <= {(breach.rule, breach.index) for breach in other.breaches}


def near_a_line(values, limits):
    distances = np.abs(np.asarray(values) - limits.centre)
    return any(np.any(np.abs(distances - k * limits.sigma) < 1e-9) for k in range(4))


@given(readings)
def test_each_breach_names_points_that_end_with_its_own(values):
    for breach in chart(values, rules=tuple(RunRule)).breaches:
        assert breach.points[-1] == breach.index
        assert list(breach.points) == sorted(set(breach.points))
        assert str(breach.index + 1) in breach.words


@pytest.mark.parametrize(
    ("values", "rule", "points", "is_above", "words"),
    [
        ([0, -3.2], "beyond_limits", (1,), False, "point 2 (−3.2) is below the lower limit of −3"),
        ([0, 3.2], "beyond_limits", (1,), True, "point 2 (3.2) is above the upper limit of 3"),
        (
            [2.5, 0, 2.5],
            "two_of_three",
            (0, 2),
            True,
            "points 1 and 3, two of three in a row, lie more than 2σ above the centre",
        ),
        (
            [-1.5, -1.5, 0.5, -1.5, -1.5],
            "four_of_five",
            (0, 1, 3, 4),
            False,
            "points 1, 2, 4 and 5, four of five in a row, lie more than 1σ below the centre",
        ),
        (
            [0.1] * 8,
            "eight_on_one_side",
            tuple(range(8)),
            True,
            "points 1 to 8, eight in a row, lie above the centre of 0",
        ),
        (
            [0.6, 0.5, 0.4, 0.3, -0.2, -0.3],
            "six_drifting",
            tuple(range(6)),
            False,
            "points 1 to 6, six in a row, fall without a break",
        ),
        (
            [0.5, -0.3, -0.2, -0.1, 0.1, 0.2, 0.3],
            "six_drifting",
            tuple(range(1, 7)),
            True,
            "points 2 to 7, six in a row, rise without a break",
        ),
    ],
)
def test_a_breach_says_in_words_which_points_break_which_rule(values, rule, points, is_above, words):
    (breach,) = judge(values, UNIT, rules=tuple(RunRule))
    assert (breach.rule, breach.points, breach.is_above, breach.words) == (rule, points, is_above, words)


@pytest.mark.parametrize("values", [[2.5, 0, 0, 2.5], [2.5, -2.5], [0.1] * 7, [0.1] * 7 + [0.0, 0.1], [1, 2, 2, 2.9]])
def test_what_only_looks_like_a_pattern_breaks_nothing(values):
    assert judge(values, UNIT) == ()


@pytest.mark.parametrize("values", [[0.1, 0.2, 0.3, 0.4, 0.5], [0.1, 0.2, 0.3, 0.3, 0.4, 0.5]])
def test_five_points_or_a_level_step_are_no_drift(values):
    assert judge(values, UNIT, rules=[RunRule.SIX_DRIFTING]) == ()


def test_a_run_that_goes_on_is_named_at_each_point():
    assert [breach.index for breach in judge([0.1] * 10, UNIT)] == [7, 8, 9]


def test_breaches_come_in_the_order_of_the_points():
    assert [breach.index for breach in judge([2.5, 2.5, -3.5], UNIT)] == [1, 2]


def test_limits_are_three_sigma_from_the_centre_and_say_how_many_points_they_come_from():
    limits = limits_from(QUIET)
    assert limits.n == 10
    assert limits.is_trial
    assert limits.mean_moving_range == 1.0
    assert limits.sigma == pytest.approx(1 / 1.128)
    assert (limits.lower, limits.upper) == pytest.approx((0.5 - 3 / 1.128, 0.5 + 3 / 1.128))
    assert not limits_from(QUIET * 2).is_trial


@pytest.mark.parametrize("n", [0, 1, 9])
def test_too_few_points_give_no_limits_and_say_how_many_are_missing(n):
    found = chart([float(step) for step in range(n)])
    assert found.limits is None
    assert found.points_missing == 10 - n
    assert found.is_in_control is None
    assert found.breaches == ()
    with pytest.raises(ValueError, match=f"values must hold ≥ 10 values, got {n}"):
        limits_from([0.0] * n)


def test_equal_values_are_in_control_and_a_later_one_that_differs_is_not():
    assert chart([0.1] * 10).is_in_control
    later = chart([0.1] * 10 + [0.11], baseline=10)
    assert [breach.rule for breach in later.breaches] == [RunRule.BEYOND_LIMITS]


def test_the_baseline_alone_gives_the_limits():
    found = chart([*QUIET, 40.0], baseline=10)
    assert found.limits == limits_from(QUIET)
    assert not found.is_in_control
    assert chart([*QUIET, 0.0, 1.0], baseline=10).is_in_control


def test_a_point_with_a_known_cause_is_left_out_of_limits_and_runs_but_kept_in_sight():
    found = chart([*QUIET[:5], 40.0, *QUIET[5:]], excluded=[5])
    assert found.excluded == (5,)
    assert found.values[5] == 40.0
    assert found.limits == limits_from(QUIET)
    assert found.is_in_control


def test_positions_of_breaches_are_those_on_the_whole_chart():
    found = chart([40.0, *QUIET, 40.0], baseline=11, excluded=[0])
    assert {breach.index for breach in found.breaches} == {11}
    assert found.breaches[0].words.startswith("point 12 (40)")


def test_an_excluded_point_can_leave_too_few():
    assert chart(QUIET, excluded=[0, 0, 1]).points_missing == 2


@pytest.mark.parametrize("position", [-1, 10])
def test_a_position_that_is_not_there_is_refused(position):
    with pytest.raises(ValueError, match=f"excluded must hold positions from 0 to 9, got {position}"):
        chart(QUIET, excluded=[position])


def test_a_baseline_too_short_is_refused():
    with pytest.raises(ValueError, match="baseline must be ≥ 10, got 5"):
        chart(QUIET, baseline=5)


def test_every_rule_has_its_sentence():
    assert set(RULE_WORDS) == set(RunRule)
    assert set(WESTERN_ELECTRIC) == set(RunRule) - {RunRule.SIX_DRIFTING}
