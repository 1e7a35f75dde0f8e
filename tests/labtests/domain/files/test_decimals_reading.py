"""Plain decimals read many at once are the very floats that reading each would give."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.files.decimals import read_decimals

digits = st.text("0123456789", max_size=9)
plain = st.tuples(
    st.sampled_from(["", "-"]), digits, st.sampled_from(["", "."]), st.text("0123456789", max_size=5)
).map("".join)
has_digit = plain.filter(lambda text: any(character.isdigit() for character in text))


def read(text):
    """Read numbers with commas between them."""
    data = text.encode()
    commas = [place for place, character in enumerate(data) if character == ord(",")]
    return read_decimals(data, np.array([0, *(place + 1 for place in commas)]), np.array([*commas, len(data)]))


@given(st.lists(has_digit, min_size=1, max_size=40))
def test_values_are_those_of_float(texts):
    values = read(",".join(texts))
    assert [value.hex() for value in values] == [float(text).hex() for text in texts]


def test_zero_keeps_its_sign():
    assert math.copysign(1, read("-0.0")[0]) == -1


@pytest.mark.parametrize(
    "text",
    ["", ",", "1,", "1,,2", "1e3", "+1", "1.2.3", "1-2", "--1", "1 2", "nan", ".", "-", "-.", "1234567890123456", "²"],
)
def test_anything_else_is_left_to_others(text):
    assert read(text) is None


@given(st.text("0123456789.-+eE, ", max_size=30))
def test_whatever_is_read_is_what_float_reads(text):
    values = read(text)
    if values is not None:
        assert values.tolist() == [float(part) for part in text.split(",")]
