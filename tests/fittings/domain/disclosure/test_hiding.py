"""Hidden cells can't be worked out again from the totals."""

import numpy as np
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from scipy.optimize import linprog

from fittings.domain.disclosure.hiding import hide_cells, hide_small

tables = st.integers(2, 4).flatmap(
    lambda width: st.lists(st.lists(st.integers(0, 30), min_size=width, max_size=width), min_size=2, max_size=4)
)


def range_of(counts, shown, cell):
    """The lowest and highest value of a hidden cell that the totals and the cells shown leave open."""
    hidden = [(i, j) for i, row in enumerate(shown) for j, value in enumerate(row) if value is None]
    rules, totals = [], []
    for axis in (0, 1):
        for line in range(len(counts) if axis == 0 else len(counts[0])):
            on = [1.0 if place[axis] == line else 0.0 for place in hidden]
            if any(on):
                rules.append(on)
                totals.append(sum(counts[i][j] for k, (i, j) in enumerate(hidden) if on[k]))
    aim = np.array([1.0 if place == cell else 0.0 for place in hidden])
    low, high = (linprog(sign * aim, A_eq=rules, b_eq=totals, bounds=(0, None)) for sign in (1, -1))
    return low.fun, -high.fun


@given(tables)
# Each row and column leaves room for the zeros, but all of them together do not.
@example([[2, 0, 0, 3], [3, 0, 5, 2], [5, 2, 3, 5], [5, 3, 2, 5]])
def test_no_hidden_cell_follows_from_the_totals_unless_all_are_hidden(counts):
    assume(min(sum(line) for line in (*counts, *zip(*counts, strict=True))) >= 5)
    shown = hide_cells(counts)
    for i, row in enumerate(shown):
        for j, value in enumerate(row):
            if value is not None:
                assert value == counts[i][j] >= 5
                continue
            low, high = range_of(counts, shown, (i, j))
            everything = all(cell is None for cell in (*row, *(other[j] for other in shown)))
            assert high - low > 0.5 or everything


def test_cells_that_the_totals_leave_no_room_are_hidden_with_another():
    assert hide_cells([[0, 5, 0], [0, 5, 0], [5, 5, 5]]) == ((None, None, None),) * 3


def test_table_without_small_counts_is_shown_whole():
    assert hide_cells([[5, 6], [7, 8]]) == ((5, 6), (7, 8))
    assert hide_cells([]) == ()


def test_one_row_gives_everything_away_by_its_columns():
    assert hide_cells([[3, 40, 12]]) == ((None, None, None),)


def test_malformed_tables_are_named():
    with pytest.raises(ValueError, match="rows of one length"):
        hide_cells([[1, 2], [3]])
    with pytest.raises(ValueError, match="whole numbers >= 0"):
        hide_cells([[1, -2]])


def test_counts_that_add_up_to_nothing_take_one_with_them():
    assert hide_small([0, 0, 40, 9]) == (None, None, 40, None)
    assert hide_small([2, 2, 40, 9]) == (None, None, 40, None)
    assert hide_small([4, 4, 40, 9]) == (None, None, 40, 9)
    assert hide_small([0, 0, 40], total_shown=False) == (None, None, 40)


@pytest.mark.parametrize(
    ("given_counts", "shown"),
    [
        ([], ()),
        ([5, 6], (5, 6)),
        ([4, 6], (None, None)),
        ([4, 6, 9], (None, None, 9)),
        ([0, 3, 9], (None, None, None)),
        ([1, 4, 9], (None, None, 9)),
        ([4], (None,)),
    ],
)
def test_small_cells_are_hidden_and_cannot_be_had_by_subtraction(given_counts, shown):
    assert hide_small(given_counts) == shown


def test_without_a_total_only_the_small_cell_is_hidden():
    assert hide_small([4, 6, 9], total_shown=False) == (None, 6, 9)


def test_negative_counts_are_refused():
    with pytest.raises(ValueError, match="counts must be whole numbers"):
        hide_small([-1])
