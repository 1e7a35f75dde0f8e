"""GTINs: their check digit, their lengths, how they are written."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.gtin import LENGTHS, check_digit, full_gtin, short_gtin

digits = st.text("0123456789", min_size=11, max_size=13)


def test_check_digit_by_hand():
    # From the right: 3 × (2 + 0 + 1) + (1 + 3) = 13, so 7 is missing to 20.
    assert check_digit("13012") == 7


def test_sum_divisible_by_ten_has_the_check_digit_0():
    assert check_digit("55") == 0


@given(digits, st.integers(0, 12), st.integers(1, 9))
def test_any_single_wrong_digit_is_noticed(body, place, step):
    place %= len(body)
    wrong = body[:place] + str((int(body[place]) + step) % 10) + body[place + 1 :]
    assert check_digit(wrong) != check_digit(body)


@given(digits)
def test_full_and_short_forms_lead_back(body):
    gtin = body + str(check_digit(body))
    full = full_gtin(gtin)
    assert len(full) == 14
    assert len(short_gtin(full)) in LENGTHS
    assert full_gtin(short_gtin(full)) == full


@pytest.mark.parametrize("text", ["", "1234567", "123456789012345", "40012345678x1", "٤٠٠١٢٣٤٥", "40.01234567891"])
def test_what_is_no_gtin_is_refused(text):
    with pytest.raises(ValueError, match=r"must have 8, 12, 13 or 14 digits"):
        full_gtin(text)


def test_wrong_check_digit_is_refused_with_the_right_one():
    with pytest.raises(ValueError, match="last digit should be 1"):
        full_gtin("4001234567890")


@pytest.mark.parametrize("text", ["", "12a", "1" * 18])
def test_check_digit_of_no_number_is_refused(text):
    with pytest.raises(ValueError, match="1 to 17"):
        check_digit(text)
