"""Single written values: what is read, what is refused and with which words."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.files import fields
from labtests.domain.files.problems import FieldError


@pytest.mark.parametrize(
    ("text", "value"), [("5.92", 5.92), (" -1.5 ", -1.5), ("+.5", 0.5), ("2e3", 2000.0), ("7.", 7.0)]
)
def test_number_is_read(text, value):
    assert fields.read_number(text) == value


@pytest.mark.parametrize("text", ["", "abc", "1,5", "nan", "inf", "-Infinity", "0x1p3", "1_000", "١", "1 2", "1e9999"])
def test_what_is_no_plain_number_is_refused(text):
    with pytest.raises(FieldError, match="not a number"):
        fields.read_number(text)


def test_number_too_large_to_hold_is_refused():
    with pytest.raises(FieldError, match="too large"):
        fields.read_number("1e999")


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_finite_number_is_read_back(value):
    assert fields.read_number(repr(value)) == value


@pytest.mark.parametrize("text", ["0", "1000", "1.5", "-1"])
def test_repeat_outside_whole_numbers_is_refused(text):
    with pytest.raises(FieldError, match="whole number from 1 to 999"):
        fields.read_repeat(text)


def test_repeat_is_read():
    assert fields.read_repeat("12") == 12


def test_measure_is_converted_to_the_kept_unit():
    assert fields.read_measure("74.5 degF", name="temperature") == pytest.approx(23.6111111, abs=1e-7)
    assert fields.read_measure("2 h", name="conditioned") == 7200.0
    assert fields.read_measure("10 oz", name="mass") == pytest.approx(283.49523125)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("445", "a number, a space and a unit .N or lbf."),
        ("445 kg", "force must be given in N or lbf, got “kg”"),
        ("four N", "“four” is not a number"),
        ("-3 N", "accepted: 0 to 5000 N"),
        ("4 4 N", "a number, a space and a unit"),
    ],
)
def test_measure_that_cannot_be_read_says_what_is_accepted(text, words):
    with pytest.raises(FieldError, match=words):
        fields.read_measure(text, name="heel_clamp")


def test_unit_of_another_quantity_is_refused():
    with pytest.raises(FieldError, match=r"use N\*m or in\*lbf"):
        fields.read_unit("N", quantity="torque")
    assert fields.read_unit(" in*lbf ", quantity="torque") == "in*lbf"


@pytest.mark.parametrize("text", ["42.5", "EU 42,5", "EU 42.3", "EU 9", "EU 90", "UK 8", "EU 42.55"])
def test_size_not_written_in_half_eu_sizes_is_refused(text):
    with pytest.raises(FieldError, match=r"write it as “EU 42\.5”"):
        fields.read_size(text)


def test_whole_size_keeps_one_decimal():
    assert str(fields.read_size("EU 42")) == "42.0"
    assert fields.read_size("EU 42.5") == Decimal("42.5")


def test_side_is_left_or_right():
    assert fields.read_side(" left ") == "left"
    with pytest.raises(FieldError, match="write left or right"):
        fields.read_side("L")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("4 March 2026", "not an ISO 8601"),
        ("2026-03-04T10:15:00", "no offset from UTC"),
        ("0001-01-01T00:00:00+14:00", "the year 1 makes no sense"),
    ],
)
def test_time_without_date_form_offset_or_sensible_year_is_refused(text, words):
    with pytest.raises(FieldError, match=words):
        fields.read_performed(text)


def test_time_with_z_is_read():
    assert fields.read_performed("2026-03-04T10:15:00Z").utcoffset().total_seconds() == 0


def test_names_are_read_and_odd_ones_refused():
    assert fields.read_code("F2-01") == "F2-01"
    assert fields.read_slug("fenrunner-2") == "fenrunner-2"
    assert fields.read_user_name("technician") == "technician"
    with pytest.raises(FieldError, match="not a valid code"):
        fields.read_code("../x")
    with pytest.raises(FieldError, match="short name"):
        fields.read_slug("Fen Runner")
    with pytest.raises(FieldError, match="not a user name"):
        fields.read_user_name("")
