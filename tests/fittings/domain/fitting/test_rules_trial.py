"""Targets under other rules, set against those that were made."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.fitting.rules_trial import Move, compare_needs

EDGES = [50.0, 60.0, 70.0, 80.0]
needs = st.lists(st.tuples(st.floats(40, 90), st.floats(-15, 15), st.floats(1, 12)), max_size=30)


def test_moves_widths_and_bands_are_counted():
    old = [(39, 51), (44, 56), (54, 66), (62, 74)]
    new = [(39, 51), (46, 58), (56, 68), (60, 76)]
    found = compare_needs(old, new, EDGES)
    assert (found.n, found.moved, found.widened, found.narrowed, found.another_band) == (4, 2, 1, 0, 0)
    assert found.mean_shift == pytest.approx(1.0)
    assert (found.largest_rise, found.largest_fall) == pytest.approx((2.0, 0.0))
    assert found.shifts == ((0, 2), (2, 2))
    assert found.moves == (Move(0, 0, 1), Move(1, 1, 1), Move(2, 2, 2))


def test_centre_on_an_edge_lies_in_the_upper_band():
    found = compare_needs([(43, 55)], [(44, 56)], EDGES)
    assert found.moves == (Move(0, 1, 1),)
    assert found.another_band == 1


@given(needs)
def test_turned_round_it_says_the_opposite(rows):
    old = [(centre - half, centre + half) for centre, _, half in rows]
    new = [(centre + shift - half, centre + shift + half) for centre, shift, half in rows]
    one, other = compare_needs(old, new, EDGES), compare_needs(new, old, EDGES)
    assert one.n == len(rows) == sum(people for _, people in one.shifts)
    assert {(-shift, people) for shift, people in one.shifts} == set(other.shifts)
    assert {(move.after, move.before, move.people) for move in one.moves} == {
        (move.before, move.after, move.people) for move in other.moves
    }
    assert one.moved == other.moved


def test_same_rules_move_nobody():
    found = compare_needs([(40, 52), (60, 72)], [(40, 52), (60, 72)], EDGES)
    assert (found.moved, found.widened, found.narrowed, found.another_band) == (0, 0, 0, 0)


def test_nobody_has_no_mean():
    found = compare_needs([], [], EDGES)
    assert (found.n, found.mean_shift, found.largest_rise, found.largest_fall, found.shifts) == (
        0,
        None,
        None,
        None,
        (),
    )


@pytest.mark.parametrize(
    ("old", "new", "edges", "words"),
    [
        ([(1, 2)], [], EDGES, "same people"),
        ([(1, np.nan)], [(1, 2)], EDGES, "finite"),
        ([(1, 2)], [(1, np.inf)], EDGES, "finite"),
        ([(1, 2)], [(1, 2)], [60.0, 50.0], "edges must ascend"),
    ],
)
def test_malformed_input_is_named(old, new, edges, words):
    with pytest.raises(ValueError, match=words):
        compare_needs(old, new, edges)
