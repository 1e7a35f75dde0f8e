"""Widths of feet against those of shoes, insoles, and sizes as people say them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.shoes.insoles import insole_warning
from fittings.domain.shoes.sizing import SIZE_SYSTEMS, read_eu_size, size_in, size_said
from fittings.domain.shoes.widths import foot_width, width_of_shoe, width_remark


def test_wider_foot_decides_and_borders_are_medium():
    assert foot_width([(200.0, 73.0)]) == "medium"
    assert foot_width([(200.0, 72.9)]) == "narrow"
    assert foot_width([(200.0, 81.0)]) == "medium"
    assert foot_width([(200.0, 72.0), (200.0, 81.1)]) == "wide"
    assert foot_width([(None, 100.0), (265.0, None)]) == ""
    with pytest.raises(ValueError, match="foot_width_mm"):
        foot_width([(265.0, 500.0)])


def test_letters_mean_other_widths_for_women():
    assert [width_of_shoe(name, "men") for name in ("B", "D", "2e")] == ["narrow", "medium", "wide"]
    assert [width_of_shoe(name, "women") for name in ("2A", "B", "D")] == ["narrow", "medium", "wide"]
    assert width_of_shoe(" extra  wide ", "all") == "wide"


def test_remark_only_where_both_widths_are_known():
    assert width_remark("", ["D"], "men") == ("", False)
    assert width_remark("wide", [], "men") == ("", False)
    assert width_remark("medium", ["roomy"], "men") == (
        "Made in roomy: ask which of them suits a foot that is medium for its length",
        True,
    )


@pytest.mark.parametrize(
    ("insole", "removable", "words"),
    [
        ("", False, ""),
        ("none", False, ""),
        ("orthosis", True, ""),
        ("insole", True, ""),
        ("orthosis", False, "The orthosis does not fit"),
        ("insole", False, "takes up room"),
        ("orthosis", None, "Not known whether"),
    ],
)
def test_insole_in_a_shoe_whose_own_stays_in_is_warned_of(insole, removable, words):
    said = insole_warning(insole, removable)
    assert words in said
    assert bool(said) == bool(words)


@given(st.integers(30, 110).map(lambda halves: Decimal(halves) / 2), st.sampled_from([*SIZE_SYSTEMS, "us"]))
def test_written_size_is_read_as_the_same_eu_size(eu, system):
    assert read_eu_size(size_said(size_in(eu, system), system)) == eu


def test_number_alone_is_of_the_system_and_a_whole_size_of_its_own():
    assert size_said("8", "uk") == "UK 8"
    assert size_said("8,5", "us-women") == "US W 8,5"
    assert size_said("EU 42", "uk") == "EU 42"
    assert size_said("265", "mm") == "265 mm"
    assert size_said("9", "us") == "US 9"
    assert size_said("nine", "uk") == "nine"
    # Below UK 1 the numbers of children begin again.
    assert size_in(30, "uk") == "EU 30"
