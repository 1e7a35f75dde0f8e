"""Curves and tests where people come late to a group."""

import numpy as np
import pytest

from fittings.domain.outcomes.late_entry import late_life_table
from fittings.domain.outcomes.survival import curve_of, life_table, log_rank_of


def test_nobody_late_is_the_plain_table():
    days, events = [3, 1, 3, 8], [1, 0, 0, 1]
    late, plain = late_life_table([0] * 4, days, [1] * 4, events), life_table(days, events)
    assert late.late is None
    for name in ("time", "left", "events"):
        assert getattr(late, name).tolist() == getattr(plain, name).tolist()


def test_late_ones_are_at_risk_only_after_they_came():
    curve = curve_of(late_life_table([0, 0, 0, 4], [4, 6, 9, 9], [1, 1, 1, 1], [1, 1, 0, 1]))
    # At 4 the three who were there, the one who comes then is not; at 6 the three left, at 9 two.
    assert curve.at_risk.tolist() == [3.0, 3.0, 2.0]
    assert curve.survival.tolist() == pytest.approx([2 / 3, 4 / 9, 2 / 9])


def test_a_change_within_one_group_changes_nothing():
    whole = curve_of(life_table([5, 9, 9], [1, 0, 1]))
    split = curve_of(late_life_table([0, 0, 4, 0], [5, 4, 9, 9], [1, 1, 1, 1], [1, 0, 0, 1]))
    for name in ("time", "at_risk", "survival", "low", "high"):
        np.testing.assert_allclose(getattr(split, name), getattr(whole, name))


def test_log_rank_counts_the_late_from_their_entry_at_the_other_groups_events():
    first = late_life_table([0, 0], [5, 12], [1, 1], [1, 1])
    second = late_life_table([0, 7], [12, 12], [1, 3], [0, 0])
    found = log_rank_of([first, second])
    # At 5 the second group has one at risk, not four; at 12 four.
    assert found.expected[0] == pytest.approx(2 / 3 + 1 / 5)


def test_nobody_at_all_is_an_empty_table():
    assert late_life_table([], [], [], []).n == 0


@pytest.mark.parametrize(
    ("entry", "leave", "words"), [([0, 1], [2], "one length"), ([3], [3], "before leave"), ([-1], [3], ">= 0")]
)
def test_malformed_input_is_refused(entry, leave, words):
    with pytest.raises(ValueError, match=words):
        late_life_table(entry, leave, [1], [0])
