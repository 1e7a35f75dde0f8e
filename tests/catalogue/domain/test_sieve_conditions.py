from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.sieve import between, ordered, picked, sieve, steps_along

tables = st.integers(0, 12).flatmap(
    lambda rows: st.tuples(
        st.just(rows),
        st.dictionaries(
            st.sampled_from("abcdef"),
            st.lists(st.booleans(), min_size=rows, max_size=rows).map(lambda held: np.array(held, dtype=bool)),
        ),
    )
)


@given(tables)
def test_what_is_left_meets_every_condition_and_one_let_go_every_other(table):
    rows, conditions = table
    found = sieve(conditions, rows)
    for row in range(rows):
        assert found.left[row] == all(met[row] for met in conditions.values())
        for name in conditions:
            others = [met[row] for other, met in conditions.items() if other != name]
            assert found.left_without(name)[row] == all(others)


@given(tables)
def test_letting_go_never_leaves_less(table):
    rows, conditions = table
    found = sieve(conditions, rows)
    for name in (*conditions, "not there"):
        assert (found.left_without(name) >= found.left).all()


def test_no_conditions_leave_everything():
    assert sieve({}, 3).left.tolist() == [True, True, True]
    assert sieve({}, 0).left.tolist() == []


def test_condition_of_another_length_is_refused():
    with pytest.raises(ValueError, match=r"condition low must have shape \(3,\), got \(2,\)"):
        sieve({"low": np.array([True, False])}, 3)


def test_too_many_conditions_are_refused():
    met = np.array([True])
    with pytest.raises(ValueError, match="at most 127, got 128"):
        sieve({str(number): met for number in range(128)}, 1)


def test_limits_are_included_and_missing_values_lie_nowhere():
    values = np.array([1.0, 2.0, 3.0, np.nan])
    assert between(values, 1.0, 2.0).tolist() == [True, True, False, False]
    assert between(values, None, None).tolist() == [True, True, True, False]
    assert between(values, 3.0, None).tolist() == [False, False, True, False]


@given(st.lists(st.none() | st.integers(-3, 3), max_size=12), st.booleans())
def test_order_is_pythons_with_missing_values_last(held, is_descending):
    values = np.array([np.nan if value is None else float(value) for value in held])
    known = [row for row, value in enumerate(held) if value is not None]
    wanted = sorted(known, key=lambda row: -held[row] if is_descending else held[row])
    wanted += [row for row, value in enumerate(held) if value is None]
    assert ordered(values, is_descending=is_descending).tolist() == wanted


@given(st.lists(st.tuples(st.integers(-3, 3), st.booleans()), max_size=12), st.booleans())
def test_rows_picked_from_the_order_of_all_lie_as_they_would_be_sorted(held, is_descending):
    values = np.array([float(value) for value, _ in held])
    rows = np.flatnonzero([is_wanted for _, is_wanted in held])
    found = picked(ordered(values, is_descending=is_descending), rows)
    assert found.tolist() == rows[ordered(values[rows], is_descending=is_descending)].tolist()


@given(st.lists(st.floats(-50, 150), max_size=30), st.integers(1, 9))
def test_every_value_is_in_one_step_in_order(values, steps):
    found = steps_along(np.array(values), 0.0, 100.0, steps=steps)
    assert len(found) == len(values)
    assert all(0 <= step < steps for step in found)
    assert found[np.argsort(values)].tolist() == sorted(found.tolist())


@pytest.mark.parametrize(("low", "high", "steps", "said"), [(5.0, 5.0, 3, "high must"), (0.0, 1.0, 0, "steps must")])
def test_axis_without_room_is_refused(low, high, steps, said):
    with pytest.raises(ValueError, match=said):
        steps_along(np.array([1.0]), low, high, steps=steps)
