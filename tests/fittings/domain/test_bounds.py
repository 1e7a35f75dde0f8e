"""Named checks of single values."""

import pytest

from fittings.domain.bounds import number_within, whole_within


@pytest.mark.parametrize("value", [True, "70", None, [70]])
def test_what_is_no_number_is_a_type_error_that_names_it(value):
    with pytest.raises(TypeError, match="body_mass_kg must be a number from 20 to 300, got"):
        number_within("body_mass_kg", value, 20, 300)
    with pytest.raises(TypeError, match="pronation must be a whole number from 0 to 3, got"):
        whole_within("pronation", value, 0, 3)


@pytest.mark.parametrize("value", [19.99, 300.01, float("nan"), float("inf"), -float("inf")])
def test_a_number_out_of_range_or_not_finite_is_refused(value):
    with pytest.raises(ValueError, match="body_mass_kg must be a number from 20 to 300, got"):
        number_within("body_mass_kg", value, 20, 300)


@pytest.mark.parametrize("value", [1.5, -1, 4, float("nan"), float("inf")])
def test_a_value_that_is_not_whole_or_out_of_range_is_refused(value):
    with pytest.raises(ValueError, match="pronation must be a whole number from 0 to 3, got"):
        whole_within("pronation", value, 0, 3)


def test_both_edges_are_accepted():
    assert number_within("x", 20, 20, 300) == 20.0
    assert number_within("x", 300.0, 20, 300) == 300.0
    assert whole_within("x", 0, 0, 3) == 0
    assert whole_within("x", 3.0, 0, 3) == 3
