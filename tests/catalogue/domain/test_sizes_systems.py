"""Sizes as stores write them: read in every system, written in the store's own."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.sizes import (
    EU,
    FOOT_MM,
    READER_SYSTEMS,
    SIZE_PATTERN,
    UK,
    US,
    US_MEN,
    US_WOMEN,
    ReadSize,
    mark_converted,
    number_in,
    read_size,
    size_read,
    written_size,
)

# Worked by hand from foot = EU · 20/3 − 15 mm and 3 · foot / 25.4 − offset, midway up: EU 39.5 is 248.3 mm,
# 29.33 barleycorns: UK 6.33, US men's 7.33, US women's 8.33.
READ_AS = {"eu": "39.5", "uk": "6.5", "us-m": "7.5", "us-w": "8.5", "mm": "248"}
EU_SIZES = st.integers(30, 110).map(lambda halves: Decimal(halves) / 2)


@pytest.mark.parametrize(
    ("text", "eu"),
    [
        ("EU 42.5", "42.5"),
        ("eu42", "42.0"),
        (" 42,5 ", "42.5"),
        ("42", "42.0"),
        # (8 + 23) barleycorns = 262.5 mm; (262.5 + 15) * 3/20 = 41.62, to the nearest half
        ("UK 8", "41.5"),
        ("US M 9", "41.5"),
        ("us w 10", "41.5"),
        ("US  W 10.5", "42.5"),
        # (270 + 15) * 3/20 = 42.75: midway goes up
        ("270 mm", "43.0"),
        ("270MM", "43.0"),
        # The ends of every range
        ("15", "15.0"), ("EU 55.0", "55.0"), ("UK 1", "32.5"), ("UK 18.5", "55.0"), ("US M 2", "32.5"),
        ("US M 19.5", "55.0"), ("US W 3", "32.5"), ("US W 20.5", "55.0"), ("85 mm", "15.0"), ("350 mm", "55.0"),
    ],
)  # fmt: skip
def test_size_is_read_in_every_system(text, eu):
    assert str(read_size(text)) == eu


@pytest.mark.parametrize(
    "text",
    ["", "large", "UK", "8 UK", "US 9", "FR 42", "EU 42.55", "UK 265 mm", "14.5", "EU 55.5", "84 mm", "٤٢",
     "UK 0", "UK 0.5", "UK 19", "UK 8.3", "US M 1.5", "US M 20", "US W 2.5", "US W 21", "350.1 mm", "042", "EU -42"],
)  # fmt: skip
def test_what_is_no_size_is_refused_with_how_to_write_it(text):
    with pytest.raises(ValueError, match=re.escape("EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm")):
        read_size(text)


def test_long_text_that_is_no_size_is_repeated_in_part():
    with pytest.raises(ValueError, match=f"not “{'x' * 40}…”"):
        size_read("x" * 5000)


halves = st.integers(2, 41).map(lambda half: Decimal(half) / 2)
written_sizes = st.one_of(
    st.integers(150, 550).map(lambda tenths: f"EU {tenths / 10:g}"),
    halves.filter(lambda size: size <= Decimal("18.5")).map(lambda size: f"UK {size:f}".removesuffix(".0")),
    halves.filter(lambda size: 2 <= size <= Decimal("19.5")).map(lambda size: f"US M {size:f}".removesuffix(".0")),
    halves.filter(lambda size: size >= 3).map(lambda size: f"US W {size:f}".removesuffix(".0")),
    st.integers(850, 3500).map(lambda tenths: f"{tenths / 10:g} mm"),
)


@given(written_sizes)
def test_size_in_any_form_is_read_as_itself_and_its_eu_size_reads_the_same(text):
    read = size_read(text)
    if text.startswith("EU"):
        assert (f"EU {read.eu.normalize():f}", read.converted_from) == (text, "")
    else:
        assert read.converted_from == text
        assert read.eu * 2 == int(read.eu * 2)
        assert size_read(read.converted_from) == read
    assert 15 <= read.eu <= 55
    assert size_read(f"EU {read.eu}") == ReadSize(read.eu, "")


@given(st.from_regex(SIZE_PATTERN))
def test_whatever_the_pattern_of_the_schema_allows_is_a_size(text):
    assert 15 <= read_size(text) <= 55


@given(st.from_regex(r"(EU|UK|US M|US W)? ?[0-9]{1,3}([.,][0-9]{1,2})?( mm)?", fullmatch=True))
def test_what_the_pattern_of_the_schema_does_not_allow_is_no_size(text):
    if re.search(SIZE_PATTERN, text):
        assert 15 <= read_size(text) <= 55
    else:
        with pytest.raises(ValueError, match=r"Sizes there are: EU 15 to 55, UK 1 to 18\.5"):
            read_size(text)


def test_converted_size_is_marked_as_approximate():
    assert mark_converted("EU 42.5", "UK 8.5") == "about EU 42.5 (UK 8.5)"
    assert mark_converted("EU 42.5", "") == "EU 42.5"


def test_size_is_written_as_the_store_writes_it_with_the_eu_size():
    size = Decimal("42.0")
    assert [written_size(size, system) for system in (EU, UK, US)] == [
        "EU 42",
        "UK 8.5 (EU 42)",
        "US M 9.5, W 10.5 (EU 42)",
    ]


def test_childrens_sizes_are_not_converted():
    # UK 1 is a foot of 24 barleycorns, 203.2 mm: EU 32.73. Below it the count begins again at 13.
    assert written_size(Decimal("32.5"), "uk") == "EU 32.5"
    assert written_size(Decimal("33.0"), "uk") == "UK 1 (EU 33)"


@given(size=EU_SIZES, system=st.sampled_from((EU, UK, US)))
def test_written_eu_size_is_exact_in_every_system(size, system):
    written = written_size(size, system)
    eu = written[written.index("EU") :].rstrip(")")
    assert read_size(eu) == size


@given(size=EU_SIZES.filter(lambda size: size >= 33))
def test_converted_size_leads_back_within_half_a_size(size):
    own = written_size(size, "uk").partition(" (")[0]
    # Half a UK size is 4.2 mm, which is 0.63 of an EU size; both ways are rounded.
    assert abs(read_size(own) - size) <= Decimal("0.5")


@pytest.mark.parametrize(("system", "number"), sorted(READ_AS.items()))
def test_size_has_a_number_in_the_system_of_the_reader(system, number):
    assert number_in(Decimal("39.5"), system) == number


def test_size_below_the_first_adult_number_has_none():
    assert [number_in(Decimal("28"), system) is None for system in READER_SYSTEMS] == [False, True, True, True, False]


def test_size_names_the_system_in_which_it_was_written():
    written = {"EU 42": EU, "42,5": EU, "uk 8": UK, "us m 9": US_MEN, "US W 10.5": US_WOMEN, "265 mm": FOOT_MM}
    assert {text: size_read(text).system for text in written} == written
