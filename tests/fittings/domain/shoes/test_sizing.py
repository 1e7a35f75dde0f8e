"""Size from foot length: the larger foot leads, differences are told."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.sizes import half_size
from fittings.domain.shoes.sizing import read_eu_size, size_of, size_of_pair, width_note

lengths = st.floats(100, 400)


def test_larger_foot_leads_and_a_difference_above_5_mm_is_noted():
    pair = size_of_pair(262, 268)
    assert (pair.leading, pair.size.foot_length_mm, pair.eu_half) == ("right", 268.0, 42.5)
    assert pair.difference_mm == 6.0
    assert "right foot is 6 mm longer" in pair.note


def test_a_difference_of_exactly_5_mm_is_not_noted():
    pair = size_of_pair(265, 260)
    assert (pair.leading, pair.difference_mm, pair.note) == ("left", 5.0, "")


def test_one_foot_measured_leads_and_says_so():
    pair = size_of_pair(None, 265)
    assert (pair.leading, pair.eu_half, pair.difference_mm) == ("right", 42.0, None)
    assert "Only the right foot" in pair.note


def test_no_foot_measured_gives_no_size():
    assert size_of_pair(None, None) is None


@given(lengths, lengths)
def test_exchanging_the_feet_changes_no_size(one, other):
    assert size_of_pair(one, other).size == size_of_pair(other, one).size


@given(lengths, lengths)
def test_a_longer_foot_never_gets_a_smaller_size(one, other):
    short, long = sorted((one, other))
    assert half_size(size_of(short).eu) <= half_size(size_of(long).eu)


@given(st.floats(-50, 50))
def test_half_size_is_at_most_a_quarter_away(size):
    half = half_size(size)
    assert abs(half - size) <= 0.25
    assert half * 2 == int(half * 2)


@pytest.mark.parametrize("value", [99.9, 400.1, float("nan")])
def test_no_foot_has_such_a_length(value):
    with pytest.raises(ValueError, match="foot_length_mm must be a number from 100 to 400"):
        size_of(value)


def test_an_infinite_size_is_refused():
    with pytest.raises(ValueError, match="size must be finite"):
        half_size(float("inf"))


@pytest.mark.parametrize(
    ("written", "size"),
    [
        ("EU 42.5", "42.5"), ("eu42", "42.0"), (" 42,5 ", "42.5"), (42, "42.0"), (42.5, "42.5"),
        (Decimal("15"), "15.0"),
        ("UK 7", "40.5"), ("US M 8", "40.5"), ("us w 9", "40.5"), ("258 mm", "41.0"),
    ],
)  # fmt: skip
def test_size_is_read_however_it_is_written(written, size):
    assert str(read_eu_size(written)) == size


@pytest.mark.parametrize(
    "written", ["", "XL", "UK 44", "US 9", "84 mm", "14.5", "55.5", "42.55", "4", "٤٢", 142, float("nan"), -42]
)
def test_what_is_no_size_is_refused(written):
    with pytest.raises(ValueError, match=r"Write a size like EU 42\.5, UK 8, .* Possible sizes: EU 15 to 55"):
        read_eu_size(written)


@pytest.mark.parametrize("written", [None, True, [42], {"eu": 42}])
def test_what_is_neither_text_nor_number_is_a_type_error(written):
    with pytest.raises(TypeError, match=r"Write a size like EU 42\.5, UK 8, US M 9, US W 10\.5 or 265 mm, not"):
        read_eu_size(written)


def test_wider_foot_leads_and_no_shoe_is_said_to_fit_it():
    assert width_note(99.0, 101.5).startswith("The right foot is the wider one, 101.5 mm. How wide a shoe is was not")
    assert width_note(102.0, 101.5).startswith("The left foot is the wider one, 102 mm.")
    assert width_note(100.0, 100.0).startswith("Both feet are as wide, 100 mm.")
    assert width_note(None, 100.0).startswith("Only the right foot’s width was measured, 100 mm.")
    assert width_note(None, None) == ""


@pytest.mark.parametrize("width_mm", [39.9, 200.1])
def test_width_of_no_foot_is_refused(width_mm):
    with pytest.raises(ValueError, match="foot_width_mm"):
        width_note(width_mm, 100.0)
