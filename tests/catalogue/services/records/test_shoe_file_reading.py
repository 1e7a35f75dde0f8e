"""Shoes in a file: cells read by their column, every mistake named by row and column."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.services.csv_file import FileRejected
from catalogue.services.records.shoe_file import COLUMNS, line_of, rows_of
from catalogue.services.records.shoe_rules import Barcode

FULL = {
    "brand": "Corvane",
    "name": "Lantern",
    "version": "3",
    "use": "standing work",
    "wearer": "Women",
    "widths": "D | 2E",
    "size_system": "EU",
    "smallest_size_eu": "EU 36",
    "largest_size_eu": "42,5",
    "stated_size_eu": "39",
    "mass_g": "251,5",
    "stack_heel_mm": "33",
    "stack_forefoot_mm": "25.5",
    "removable_insole": "yes",
    "season": "autumn",
    "list_prices": "149,90 | usd 165",
    "is_discontinued": "no",
    "previous": "corvane-lantern-2",
    "alternative_names": "Lamp | Light",
    "note": "ask for samples",
    "slug": "corvane-lantern-3",
    "barcodes": "36=4001234567891 | 42.5/2E=96385074",
}


def read(**cells):
    return line_of(2, {"brand": "Corvane", "name": "Lantern"} | cells)


def test_every_column_is_read(settings):
    settings.CURRENCY = "EUR"
    line, problems = line_of(7, FULL)
    assert problems == []
    assert FULL.keys() == COLUMNS.keys()
    assert (line.row, line.brand, line.previous, line.title) == (7, "Corvane", "corvane-lantern-2", "Corvane Lantern 3")
    assert line.barcodes == (
        Barcode("04001234567891", Decimal(36)),
        Barcode("00000096385074", Decimal("42.5"), "2E"),
    )
    assert line.details == {
        "name": "Lantern",
        "version": "3",
        "use": "standing",
        "wearer": "women",
        "widths": ["D", "2E"],
        "smallest_size_eu": Decimal(36),
        "largest_size_eu": Decimal("42.5"),
        "stated_size_eu": Decimal(39),
        "mass_g": 251.5,
        "stack_heel_mm": 33.0,
        "stack_forefoot_mm": 25.5,
        "removable_insole": True,
        "season": "autumn",
        "list_prices": {"EUR": "149.90", "USD": "165"},
        "is_discontinued": False,
        "alternative_names": ["Lamp", "Light"],
        "note": "ask for samples",
        "slug": "corvane-lantern-3",
    }


@pytest.mark.parametrize(
    ("column", "text", "words"),
    [
        ("use", "dancing", "Write running, walking, standing."),
        ("wearer", "cats", "Write all, men, women, children."),
        ("mass_g", "250 g", "is not a number"),
        ("mass_g", "nan", "is not a number"),
        ("mass_g", "1e999999999", "is not a number"),
        ("stated_size_eu", "142", "is not an EU size"),
        ("stated_size_eu", "٤٢", "is not an EU size"),
        ("removable_insole", "maybe", "Write yes or no"),
        ("list_prices", "about 100", "is not a price"),
        ("list_prices", "EUR 1 | EUR 2", "two prices in EUR"),
        ("previous", "Lantern 2!", "is not an address"),
        ("widths", "|".join("ABCDEFGHIJKLMNOPQRSTUVW"), "at most 20"),
        ("note", "x" * 2001, "at most 2000"),
        ("barcodes", "4001234567891", "is not a size with its barcode"),
        ("barcodes", "42=4001234567892", "its last digit should be 1"),
        ("barcodes", "42=4001234567891|43=04001234567891", "is in this cell twice"),
        ("barcodes", "99=4001234567891", "is not an EU size"),
    ],
)
def test_cell_that_cannot_be_read_is_named(column, text, words):
    line, problems = read(**{column: text})
    assert column not in line.details
    assert [(problem.line, problem.column) for problem in problems] == [(2, column)]
    assert words in problems[0].problem


def test_every_bad_cell_of_a_row_is_named():
    _, problems = line_of(4, {"name": "Lantern", "mass_g": "x", "use": "y"})
    assert [problem.column for problem in problems] == ["brand", "mass_g", "use"]


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("bom", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_spreadsheets_of_other_countries_mean_the_same(mark, bom, end):
    lines = (mark.join(("Brand", " name ", "season")), mark.join(("Söhne", "Tarn", "")), mark * 2, mark.join("abc"))
    data = bom + (end.join(lines) + end).encode()
    assert rows_of(data) == [
        (2, {"brand": "Söhne", "name": "Tarn"}),
        (4, {"brand": "a", "name": "b", "season": "c"}),
    ]


@pytest.mark.parametrize(
    ("data", "place", "words"),
    [
        (b"", (1, "file"), "empty"),
        ("brand,name\nSöhne,Tarn\n".encode("cp1252"), (2, "file"), "not UTF-8"),
        ("brand,name\nA,B\n".encode("utf-16"), (1, "file"), "not UTF-8"),
        (b"brand\nCorvane\n", (1, "name"), "no column"),
        (b"brand,name,colour\nA,B,red\n", (1, "colour"), "not known"),
        (b"brand,name,name\nA,B,C\n", (1, "name"), "appears twice"),
        (b"brand,name\n\n,\n", (2, "file"), "no shoe below"),
        (b"brand,name\nA,B,C,D\n", (2, "file"), "more cells than the header"),
        (b"brand,name\n" + b"A,B\n" * 1001, (1002, "file"), "At most 1000 shoes"),
        (b"brand,name\n" + b"A,B\n" * 300_000, (1, "file"), "bytes; at most"),
    ],
)
def test_file_that_cannot_be_read_is_refused_with_a_place(data, place, words):
    with pytest.raises(FileRejected) as caught:
        rows_of(data)
    assert [(problem.line, problem.column) for problem in caught.value.problems] == [place]
    assert words in caught.value.problems[0].problem


@given(st.binary(max_size=200) | st.text(max_size=80).map(lambda text: f"brand,name\n{text}".encode()))
def test_any_bytes_are_read_or_refused_with_a_place(data):
    try:
        rows = rows_of(data)
    except FileRejected as refused:
        assert all(problem.line >= 1 and problem.column and problem.problem for problem in refused.problems)  # noqa: PT017
    else:
        assert all(row >= 2 and cells for row, cells in rows)


@given(st.sampled_from(sorted(COLUMNS)), st.text(max_size=60))
def test_any_cell_is_read_or_refused(column, text):
    line, problems = read(**{column: text})
    assert problems or line.title


def test_sizes_of_a_row_are_read_in_the_system_that_it_states():
    line, problems = read(
        size_system="US women", smallest_size_eu="7", largest_size_eu="US W 10,5", barcodes="9=96385074"
    )
    assert problems == []
    assert line.details == {
        "name": "Lantern",
        "smallest_size_eu": Decimal("38.0"),
        "largest_size_eu": Decimal("42.5"),
    }
    assert line.barcodes[0].size_eu == Decimal("40.5")


@pytest.mark.parametrize(
    ("cells", "column", "says"),
    [
        ({"size_system": "FR", "largest_size_eu": "42"}, "size_system", "Write EU, UK, US men, US women, mm"),
        ({"size_system": "UK", "largest_size_eu": "EU 42"}, "largest_size_eu", "not a size in the system UK"),
        ({"size_system": "mm", "stated_size_eu": "42"}, "stated_size_eu", "85 to 350 mm"),
    ],
)
def test_size_outside_the_stated_system_is_named_by_its_column(cells, column, says):
    _, (problem,) = read(**cells)
    assert problem.column == column
    assert says in problem.problem
