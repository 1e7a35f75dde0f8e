"""A stock file as spreadsheets may save it: read back the same, and every mistake named by line and column."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.domain.sizes import HOW_TO_WRITE
from catalogue.services.stock import count_file
from catalogue.services.stock.count_file import CountLine, CountRejected, StockRow

KNOWN = frozenset({"corvane-lantern-1", "plovisk-obbleck-2"})


def refused(data, known=KNOWN):
    with pytest.raises(CountRejected) as caught:
        count_file.read(data, known)
    return [(found.line, found.column, found.problem) for found in caught.value.problems]


sizes = st.integers(30, 110).map(lambda halves: Decimal(halves) / 2)
keys = st.tuples(st.from_regex(r"[a-z0-9][a-z0-9-]{0,20}", fullmatch=True), sizes)
names = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=20)


@given(st.dictionaries(keys, st.tuples(st.integers(0, 9999), names), min_size=1, max_size=20))
def test_what_is_written_is_read_back(stock):
    rows = [StockRow(shoe, name, name, size, pairs) for (shoe, size), (pairs, name) in stock.items()]
    read = count_file.read(count_file.write(rows), frozenset(shoe for shoe, _ in stock))
    assert {(line.shoe, line.size_eu): line.quantity for line in read} == {key: row[0] for key, row in stock.items()}


def as_spreadsheet(lines, *, mark, comma, end, bom):
    text = end.join(mark.join((line.shoe, str(line.size_eu).replace(".", comma), str(line.quantity))) for line in lines)
    return (b"\xef\xbb\xbf" if bom else b"") + f"shoe{mark}size{mark}quantity{end}{text}{end}".encode()


@given(
    st.dictionaries(st.tuples(st.sampled_from(sorted(KNOWN)), sizes), st.integers(0, 99), min_size=1),
    st.sampled_from([(";", ","), (";", "."), ("\t", ","), (",", ".")]),
    st.sampled_from(["\n", "\r\n", "\r"]),
    st.booleans(),
)
def test_marks_of_other_countries_mean_the_same(stock, marks, end, bom):
    lines = tuple(CountLine(shoe, size, pairs) for (shoe, size), pairs in stock.items())
    assert count_file.read(as_spreadsheet(lines, mark=marks[0], comma=marks[1], end=end, bom=bom), KNOWN) == lines


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_with_a_place(data):
    try:
        count_file.read(data, KNOWN)
    except CountRejected as refused:
        problems = refused.problems
    else:
        return
    assert problems
    assert all(found.line >= 1 and found.column and found.problem for found in problems)


@given(st.text(alphabet='shoeizquanty,;"\n\t 0123456789.-corvane-lantern-1', max_size=200))
def test_any_text_is_read_or_refused(text):
    try:
        count_file.read(f"shoe,size,quantity\n{text}".encode(), KNOWN)
    except CountRejected as refused:
        problems = refused.problems
    else:
        return
    assert problems


@pytest.mark.parametrize(
    ("line", "column", "words"),
    [
        ("nobody-knows,42,1", "shoe", "no shoe “nobody-knows”"),
        ("corvane-lantern-1,12,1", "size", f"{HOW_TO_WRITE}, not “12”"),
        ("corvane-lantern-1,42.55,1", "size", f"{HOW_TO_WRITE}, not “42.55”"),
        ("corvane-lantern-1,,1", "size", f"{HOW_TO_WRITE}, not “”"),
        ("corvane-lantern-1,UK 44,1", "size", "UK 1 to 18.5"),
        ("corvane-lantern-1,258 mm,1", "size", "is on line 2 too"),
        ("corvane-lantern-1,42,-1", "quantity", "negative"),
        ("corvane-lantern-1,42,1.5", "quantity", "not a whole number"),
        ("corvane-lantern-1,42,many", "quantity", "not a whole number"),
        ("corvane-lantern-1,42,10000", "quantity", "too many"),
        ("corvane-lantern-1,41,7", "size", "is on line 2 too"),
    ],
)
def test_mistake_is_named_by_line_and_column(line, column, words):
    (problem,) = refused(f"shoe,size,quantity\ncorvane-lantern-1,41,7\n{line}\n".encode())
    assert problem[:2] == (3, column)
    assert words in problem[2]


def test_all_mistakes_of_a_file_are_named_at_once():
    found = refused(b"shoe,size,quantity\nx,1,-1\n\ny,2,3\n")
    assert [(line, column) for line, column, _ in found] == [
        (2, "shoe"), (2, "size"), (2, "quantity"), (4, "shoe"), (4, "size"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("shoe,size", "no column “quantity”"),
        ("shoe,size,quantity,colour", "“colour” is not known"),
        ("shoe,size,quantity,size", "appears twice"),
    ],
)
def test_wrong_header_says_what_it_should_be(header, words):
    found = refused(f"{header}\ncorvane-lantern-1,42,1\n".encode())
    assert any(line == 1 and words in problem for line, _, problem in found)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "empty"),
        (b"\xef\xbb\xbf \n", "empty"),
        (b"shoe,size,quantity\n", "no line below"),
        (b"shoe,size,quantity\n\xff\xfe,42,1\n", "not UTF-8"),
        (b"shoe,size,quantity\ncorvane-lantern-1,42,1,9,9\n", "more cells"),
        (b"PK\x03\x04\x00\x00", "not a text file"),
        (b"x" * (count_file.BYTES_MOST + 1), "at most 1\u202f048\u202f576"),
    ],
)
def test_file_that_is_no_stock_file_is_refused(data, words):
    assert any(words in problem for _, _, problem in refused(data))


def test_more_lines_than_the_limit_are_refused():
    lines = "\n".join(f"corvane-lantern-1,42,{n}" for n in range(count_file.LINES_MOST + 1))
    assert "At most 10\u202f000 lines" in refused(f"shoe,size,quantity\n{lines}\n".encode())[0][2]


def test_columns_for_the_eye_are_let_be_in_any_order():
    read = count_file.read(b"Band,Quantity,name,SIZE,shoe\nStrong hold,3,Obbleck,EU 42.5,plovisk-obbleck-2\n", KNOWN)
    assert read == (CountLine("plovisk-obbleck-2", Decimal("42.5"), 3),)


@pytest.mark.parametrize(
    ("written", "eu", "converted_from"),
    [
        ("41.5", "41.5", ""),
        ("EU 41.5", "41.5", ""),
        ("uk 7", "40.5", "UK 7"),
        ("US M 8", "40.5", "US M 8"),
        ("US W 9", "40.5", "US W 9"),
        ("258 mm", "41.0", "258 mm"),
    ],
)
def test_size_may_be_written_in_every_system(written, eu, converted_from):
    read = count_file.read(f"shoe,size,quantity\ncorvane-lantern-1,{written},2\n".encode(), KNOWN)
    assert read == (CountLine("corvane-lantern-1", Decimal(eu), 2, converted_from),)


def test_name_that_looks_like_a_formula_is_made_harmless():
    row = StockRow("corvane-lantern-1", "=1+1", "Strong hold", Decimal("42"), 1)
    assert b"'=1+1" in count_file.write([row])


def test_pandas_is_not_loaded_until_a_file_is_read():
    import subprocess
    import sys

    code = "import django; django.setup(); import catalogue.views.stock.stock, sys; print('pandas' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"


WIDTHS = {"corvane-lantern-1": ["D", "2E"]}


def test_widths_are_read_as_the_shoe_spells_them_and_written_again():
    text = b"shoe,size,width,quantity\ncorvane-lantern-1,42,2e,3\ncorvane-lantern-1,42,D,1\ncorvane-lantern-1,42,,2\n"
    read = count_file.read(text, KNOWN, widths=WIDTHS)
    assert [(line.width, line.quantity) for line in read] == [("2E", 3), ("D", 1), ("", 2)]
    rows = [StockRow(line.shoe, "Lantern", "", line.size_eu, line.quantity, line.width) for line in read]
    assert count_file.read(count_file.write(rows), KNOWN, widths=WIDTHS) == read


def test_file_of_before_the_widths_counts_sizes_as_a_whole():
    (line,) = count_file.read(b"shoe,size,quantity\ncorvane-lantern-1,42,3\n", KNOWN, widths=WIDTHS)
    assert line.width is None


@pytest.mark.parametrize(
    ("lines", "column", "words"),
    [
        ("corvane-lantern-1,42,4E,1", "width", "“4E” is not a width of this shoe. The shoe comes in D, 2E."),
        ("plovisk-obbleck-2,42,D,1", "width", "No width fittings are stated for the shoe."),
        (
            "corvane-lantern-1,42,D,1\ncorvane-lantern-1,42,d,2",
            "size",
            "This size and width of “corvane-lantern-1” is on line 2",
        ),
    ],
)
def test_width_that_cannot_be_taken_is_named(lines, column, words):
    with pytest.raises(CountRejected) as caught:
        count_file.read(f"shoe,size,width,quantity\n{lines}\n".encode(), KNOWN, widths=WIDTHS)
    (problem,) = caught.value.problems
    assert problem.column == column
    assert words in problem.problem
