"""A row of numbers is checked before it is computed with."""

import pytest

from labtests.domain.studies.series import check_fraction, finite_series


def test_a_sound_row_comes_back_as_an_array():
    assert finite_series("work_j", [1, 2.5]).tolist() == [1.0, 2.5]


@pytest.mark.parametrize(
    ("values", "error", "words"),
    [
        (["a"], TypeError, r"work_j must be numbers, got \['a'\]"),
        ([[1.0], [2.0]], ValueError, r"work_j must be one row of numbers, got shape \(2, 1\)"),
        ([1.0], ValueError, "work_j must hold ≥ 2 values, got 1"),
        ([1.0, float("nan")], ValueError, "work_j must be finite, got nan as value 2"),
        ([None, 1.0], ValueError, "work_j must be finite, got nan as value 1"),
    ],
)
def test_a_bad_row_is_named_with_what_is_wrong(values, error, words):
    with pytest.raises(error, match=words):
        finite_series("work_j", values, at_least=2)


@pytest.mark.parametrize("value", [0.0, 1.0, -0.1, 95.0, float("nan")])
def test_a_level_outside_0_to_1_is_refused(value):
    with pytest.raises(ValueError, match="level must be > 0 and < 1, got"):
        check_fraction("level", value)
