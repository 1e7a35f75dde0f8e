"""Onsets between two follow-ups: edges and laws (published values are in tests/external)."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.domain.outcomes.beta_product import beta_product_limits
from fittings.domain.outcomes.onset import free_at, onset_test, onsets, turnbull
from fittings.domain.outcomes.restricted_mean import restricted_mean
from fittings.domain.outcomes.visits import at_visits, visit_curve
from tests.reference.survival import kaplan_meier

VISITS = (2, 6, 12, 26)
NEVER = np.inf
person = st.tuples(st.integers(0, 30), st.one_of(st.just(NEVER), st.integers(0, 20)))
people = st.lists(person, min_size=1, max_size=40)


def columns(rows):
    return [row[0] for row in rows], [row[0] + row[1] for row in rows]


@settings(deadline=None)
@given(people)
def test_masses_add_up_to_everybody_and_the_curve_never_rises(rows):
    curve = turnbull(onsets(*columns(rows)))
    assert curve.mass.sum() == pytest.approx(1)
    assert np.all(curve.mass >= 0)
    share = free_at(curve, np.linspace(0, 60, 50))
    assert np.all(np.diff(share) <= 1e-12)
    assert share[0] <= 1.0 + 1e-12


@settings(deadline=None)
@given(people)
def test_people_counted_together_are_people_one_by_one(rows):
    left, right = columns(rows)
    one = turnbull(onsets(left, right))
    other = turnbull(onsets(left * 3, right * 3))
    assert one.mass == pytest.approx(other.mass, abs=1e-8)
    weighted = turnbull(onsets(left, right, [2.5] * len(left)))
    assert weighted.mass == pytest.approx(one.mass, abs=1e-8)


def test_nobody_and_one_alone():
    assert turnbull(onsets([], [])).mass.size == 0
    assert free_at(turnbull(onsets([], [])), [1]).tolist() == [1.0]
    assert free_at(turnbull(onsets([3], [NEVER])), [3, 30]).tolist() == [1.0, 1.0]
    assert free_at(turnbull(onsets([2], [6])), [2, 3, 6]).tolist() == [1.0, 0.75, 0.0]


@pytest.mark.parametrize(
    ("left", "right", "people", "message"),
    [
        ([1, 2], [3], None, "of one length"),
        ([-1], [3], None, "left must be finite and >= 0"),
        ([np.nan], [3], None, "left must be finite and >= 0"),
        ([4], [3], None, "right must be >= left"),
        ([1], [np.nan], None, "right must be >= left"),
        ([1], [2], [-1], "people must be finite and >= 0"),
    ],
)
def test_malformed_intervals_are_refused(left, right, people, message):
    with pytest.raises(ValueError, match=message):
        onsets(left, right, people)


@settings(deadline=None)
@given(people, people)
def test_the_test_does_not_depend_on_the_order_and_its_scores_cancel(one, other):
    groups = [onsets(*columns(rows)) for rows in (one, other)]
    found, back = onset_test(groups), onset_test(groups[::-1])
    assert sum(found.scores) == pytest.approx(0, abs=1e-4)
    if found.chi_squared is not None:
        assert found.chi_squared == pytest.approx(back.chi_squared, rel=1e-6, abs=1e-9)
        assert 0 <= found.p <= 1


def test_groups_of_nobody_and_groups_all_alike_cannot_be_compared():
    some, nobody = onsets([2], [6]), onsets([], [])
    for groups in ([nobody, some], [nobody, nobody], [some, some]):
        assert onset_test(groups).chi_squared is None
        assert onset_test(groups).p is None
    with pytest.raises(ValueError, match="groups must be at least 2, got 1"):
        onset_test([some])


@pytest.mark.parametrize(
    ("left", "right", "expected"),
    [
        (0.0, 2.4, (0.0, 1.0)),  # the first follow-up, three days late
        (2.4, 6.9, (1.0, 2.0)),
        (2.4, 13.0, (1.0, 3.0)),  # one follow-up missed
        (4.4, 8.6, (1.0, 2.0)),  # two answers nearest to one follow-up
        (0.0, 0.4, (0.0, 1.0)),  # before the first one
        (np.nan, 13.0, (2.0, 3.0)),  # only the report is known
        (26.5, NEVER, (4.0, NEVER)),
        (0.3, NEVER, (0.0, NEVER)),
    ],
)
def test_answers_belong_to_the_follow_up_nearest_to_them(left, right, expected):
    seen = at_visits([left], [right], [1], VISITS)
    assert (seen.left[0], seen.right[0]) == expected


@settings(deadline=None)
@given(people)
def test_limits_lie_around_the_share_and_have_a_width_at_every_follow_up(rows):
    curve = visit_curve(at_visits(*columns(rows), [1] * len(rows), VISITS), VISITS)
    assert np.all((curve.low >= 0) & (curve.low <= curve.share))
    assert np.all((curve.share <= curve.high) & (curve.high <= 1))
    assert np.all(curve.high - curve.low > 0.01)
    assert np.all(np.diff(curve.events) >= 0)
    assert np.all(np.diff(curve.at_risk) <= 0)


def test_who_comes_late_is_not_at_risk_before():
    """Ten from the start, half of them with an onset by week 6; five more who come at week 6."""
    left, right = [2.0] * 5 + [26.0] * 5 + [26.0] * 5, [6.0] * 5 + [NEVER] * 10
    entered = [0.0] * 10 + [6.0] * 5
    curve = visit_curve(at_visits(left, right, [1] * 15, VISITS, entered=entered), VISITS)
    assert curve.share.tolist() == pytest.approx([1.0, 0.5, 0.5, 0.5])
    assert curve.at_risk.tolist() == [10.0, 5.0, 10.0, 10.0]
    test = onset_test([onsets([1, 3], [2, NEVER], entered=[0, 2]), onsets([1, 3], [2, NEVER])])
    assert test.scores[0] > test.scores[1] - 1e-9
    with pytest.raises(ValueError, match="entered must be from 0 to left"):
        onsets([1], [2], entered=[3])


def test_all_and_none_and_nobody():
    everyone = visit_curve(at_visits([0] * 20, [2] * 20, [1] * 20, VISITS), VISITS)
    assert everyone.share[0] == 0.0
    assert everyone.high[0] == pytest.approx(1 - 0.025 ** (1 / 20))
    nobody = visit_curve(at_visits([], [], [], VISITS), VISITS)
    assert (nobody.low[0], nobody.high[0], nobody.at_risk[0]) == (0.0, 1.0, 0.0)


def test_a_missed_follow_up_widens_the_limits():
    known = visit_curve(at_visits([6.0] * 8 + [12.0] * 30, [12.0] * 8 + [NEVER] * 30, [1] * 38, VISITS), VISITS)
    missed = visit_curve(at_visits([2.0] * 8 + [12.0] * 30, [12.0] * 8 + [NEVER] * 30, [1] * 38, VISITS), VISITS)
    assert known.low[1] > 0.9
    assert missed.low[1] < 0.75
    assert missed.high[1] > 0.99


def test_limits_narrow_with_more_people():
    few, many = (beta_product_limits(np.array([n]), np.array([n / 5]), np.array([n * 0.8])) for n in (50.0, 5e6))
    assert many[0][0] > few[0][0]
    assert many[1][0] - many[0][0] < 1e-3
    with pytest.raises(ValueError, match="confidence must be between 0 and 1"):
        beta_product_limits(np.array([4.0]), np.array([1.0]), np.array([3.0]), 1.0)


def test_mean_time_free_ends_where_it_is_asked_to():
    curve = kaplan_meier([1, 2, 3, 4], [True] * 4)
    assert restricted_mean(curve, 4).value == 2.5
    assert restricted_mean(curve, 2).value == 1.75
    assert restricted_mean(kaplan_meier([5, 6], [False, False]), 4).value == 4.0
    assert restricted_mean(kaplan_meier([], []), 4).standard_error == 0.0
    with pytest.raises(ValueError, match="until must be > 0"):
        restricted_mean(curve, 0)
