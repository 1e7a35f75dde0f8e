"""Sizes as stores write them: read in every system, written in the store's own."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.sizes import SYSTEMS, read_size, written_size

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
    ],
)
def test_size_is_read_in_every_system(text, eu):
    assert str(read_size(text)) == eu


@pytest.mark.parametrize(
    "text",
    ["", "large", "UK", "8 UK", "US 9", "FR 42", "EU 42.55", "UK 265 mm", "14.5", "EU 55.5", "84 mm", "٤٢"],
)
def test_what_is_no_size_is_refused_with_how_to_write_it(text):
    with pytest.raises(ValueError, match=re.escape("EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm")):
        read_size(text)


def test_size_is_written_as_the_store_writes_it_with_the_eu_size():
    size = Decimal("42.0")
    assert [written_size(size, system) for system in SYSTEMS] == [
        "EU 42",
        "UK 8.5 (EU 42)",
        "US M 9.5, W 10.5 (EU 42)",
    ]


def test_childrens_sizes_are_not_converted():
    # UK 1 is a foot of 24 barleycorns, 203.2 mm: EU 32.73. Below it the count begins again at 13.
    assert written_size(Decimal("32.5"), "uk") == "EU 32.5"
    assert written_size(Decimal("33.0"), "uk") == "UK 1 (EU 33)"


@given(size=EU_SIZES, system=st.sampled_from(SYSTEMS))
def test_written_eu_size_is_exact_in_every_system(size, system):
    written = written_size(size, system)
    eu = written[written.index("EU") :].rstrip(")")
    assert read_size(eu) == size


@given(size=EU_SIZES.filter(lambda size: size >= 33))
def test_converted_size_leads_back_within_half_a_size(size):
    own = written_size(size, "uk").partition(" (")[0]
    # Half a UK size is 4.2 mm, which is 0.63 of an EU size; both ways are rounded.
    assert abs(read_size(own) - size) <= Decimal("0.5")
