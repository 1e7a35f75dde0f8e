"""The bench file: a clean one becomes SI arrays, anything else is named by line and column."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest

from labtests.domain.files.benchfile import read_bench_file
from labtests.domain.files.fields import FieldError, read_repeat
from labtests.domain.files.problems import FileRejected
from tests.labtests.bench_text import COMPRESSION, HEADER, TABLE_HEADER, TORSION, bench_bytes, bench_text

TABLE_LINE = len(HEADER) + 1
FIRST_ROW = TABLE_LINE + 1


def problems_of(data: bytes):
    with pytest.raises(FileRejected) as caught:
        read_bench_file(data, file="a.csv")
    return caught.value.problems


def only_problem(data: bytes):
    problems = problems_of(data)
    assert len(problems) == 1, problems
    return problems[0]


def test_clean_file_is_read_into_header_and_series():
    bench = read_bench_file(
        bench_bytes(worn="0 km", mass="274 g", stack_heel="34 mm", stack_forefoot="24 mm"), file="a"
    )
    header = bench.header
    assert (header.shoe, header.specimen, header.size_eu, header.side) == (
        "fenrunner-2",
        "F2-01",
        Decimal("42.5"),
        "left",
    )
    assert (header.rig, header.operator) == ("rig-1", "technician")
    assert header.performed.isoformat() == "2026-03-04T10:15:00+00:00"
    assert header.conditions.conditioned_h == 50.2
    assert header.conditions.forefoot_clamp_n == 178.0
    assert (header.worn_km, header.mass_g, header.stack_heel_mm, header.stack_forefoot_mm) == (0.0, 274.0, 34.0, 24.0)
    assert [(item.test, item.repeat, item.branch) for item in bench.curves] == [
        ("torsion", 1, "loading"),
        ("compression", 1, "loading"),
        ("compression", 1, "unloading"),
    ]
    assert bench.curves[0].load.tolist() == [0.5, 3.5, 6.5]
    assert bench.warnings == ()


def test_optional_keys_left_out_are_unknown_not_zero():
    header = read_bench_file(bench_bytes(), file="a").header
    assert header.worn_km is None
    assert header.mass_g is None


def test_inch_pound_file_gives_the_same_si_values():
    rows = [
        "torsion,1,loading,0,0",
        "torsion,1,loading,15,45",
        "compression,1,loading,0,0",
        "compression,1,loading,1,100",
    ]
    data = bench_bytes(
        rows,
        temperature="72.7 degF",
        heel_clamp="101 lbf",
        forefoot_clamp="39.5 lbf",
        torsion_units="deg, in*lbf",
        compression_units="in, lbf",
    )
    bench = read_bench_file(data, file="a")
    assert bench.header.conditions.temperature_c == pytest.approx((72.7 - 32) / 1.8)
    assert bench.header.conditions.heel_clamp_n == pytest.approx(101 * 4.4482216152605)
    assert bench.curves[0].load[1] == pytest.approx(45 * 0.1129848290276167)
    assert bench.curves[1].position[1] == pytest.approx(25.4)
    assert bench.curves[1].load[1] == pytest.approx(444.82216152605)


def test_interleaved_rows_are_grouped_in_file_order():
    rows = [
        row for pair in zip(TORSION, [row.replace(",1,", ",2,", 1) for row in TORSION], strict=True) for row in pair
    ]
    bench = read_bench_file(bench_bytes(rows), file="a")
    assert [(item.repeat, item.position.tolist()) for item in bench.curves] == [(1, [0, 10, 20]), (2, [0, 10, 20])]


@pytest.mark.parametrize("end", ["\r\n", "\r"])
def test_other_line_ends_and_a_byte_order_mark_are_read(end):
    data = b"\xef\xbb\xbf" + bench_text().replace("\n", end).encode()
    assert len(read_bench_file(data, file="a").curves) == 3


def test_spaces_and_blank_lines_in_the_table_are_read():
    rows = [TORSION[0].replace(",", " , "), "", "   ", *TORSION[1:], *COMPRESSION]
    assert np.array_equal(read_bench_file(bench_bytes(rows), file="a").curves[0].position, [0.0, 10.0, 20.0])


def test_unknown_key_is_kept_with_a_warning():
    bench = read_bench_file(bench_bytes(humidity="50 %"), file="a")
    assert bench.extra == {"humidity": "50 %"}
    assert bench.warnings == (f"line {len(HEADER) + 1}: the key “humidity” is not known; it is stored as written",)


def test_comment_that_is_no_key_is_left_aside_with_a_warning():
    data = b"# made on Monday\n\n" + bench_bytes()
    assert read_bench_file(data, file="a").warnings[0].startswith("line 1: not of the form")


def test_file_over_twenty_megabytes_is_refused():
    problem = only_problem(bench_bytes() + b" " * 20_000_000)
    assert "at most 20000000 (20 MB)" in problem.problem


@pytest.mark.parametrize("data", [b"", b"\n \n", b"\xef\xbb\xbf"])
def test_empty_file_is_refused(data):
    assert only_problem(data).problem == "the file is empty; export it from the rig once more"


def test_file_that_is_not_utf8_is_refused_with_its_line():
    problem = only_problem(bench_text(humidity="50 °").encode("latin-1"))
    assert (problem.line, problem.column) == (len(HEADER) + 1, "file")
    assert "not UTF-8" in problem.problem


@pytest.mark.parametrize("data", [b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + b"\n\1" * 99, b"\xd0\xcf\x11\xe0" + b"\0" * 900])
def test_file_that_is_no_text_is_one_problem_and_says_what_to_do(data):
    problem = only_problem(data)
    assert (problem.line, problem.column) == (1, "file")
    assert problem.problem.endswith("save the table as CSV in UTF-8")


def test_repeat_in_words_shows_what_a_repeat_looks_like():
    with pytest.raises(FieldError, match="“one” is not the number of a repeat; write a whole number from 1 to 999"):
        read_repeat("one")


def test_control_characters_are_refused_with_their_lines():
    problems = problems_of(bench_bytes(note="a\x00b", remark="a\x07b"))
    assert [problem.line for problem in problems] == [len(HEADER) + 1, len(HEADER) + 2]


def test_unknown_format_version_is_refused():
    problem = only_problem(bench_bytes(format="bench-test/2"))
    assert (problem.line, problem.column) == (1, "format")
    assert "this bench reads bench-test/1" in problem.problem


@pytest.mark.parametrize("key", [key for key in HEADER if not key.endswith("_units")])
def test_missing_key_is_named(key):
    problem = only_problem(bench_bytes(**{key: None}))
    assert problem.column == key
    assert f"“# {key} = …” is missing" in problem.problem


@pytest.mark.parametrize("key", ["torsion_units", "compression_units"])
def test_units_are_needed_only_for_the_tests_in_the_table(key):
    assert only_problem(bench_bytes(**{key: None})).column == key
    rows = COMPRESSION if key == "torsion_units" else TORSION
    assert read_bench_file(bench_bytes(rows, **{key: None}), file="a").curves


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("temperature", "22.6 K", "temperature must be given in degC or degF"),
        ("temperature", "warm degC", "is not a number"),
        ("conditioned", "50.2", "a number, a space and a unit"),
        ("performed", "2026-03-04 10:15", "no offset"),
        ("torsion_units", "deg", "two units with a comma"),
        ("torsion_units", "deg, N", "is not known for torque"),
        ("torsion_units", "rad, N*m", "is not known for angle"),
        ("compression_units", "cm, N", "is not known for length"),
        ("size", "43", "write it as “EU 42.5”"),
    ],
)
def test_header_value_that_cannot_be_read_is_named_by_line_and_key(key, value, words):
    problem = only_problem(bench_bytes(**{key: value}))
    assert (problem.line, problem.column) == (list(HEADER).index(key) + 1, key)
    assert words in problem.problem


@pytest.mark.parametrize(
    ("system", "size", "eu"),
    [
        ("UK", "8", "41.5"),
        ("US men", "9", "41.5"),
        ("US women", "US W 9", "40.5"),
        ("mm", "265", "42"),
        ("EU", "43", "43"),
    ],
)
def test_size_is_read_in_the_system_that_the_header_states(system, size, eu):
    data = f"# size_system = {system}\n".encode() + bench_bytes(size=size)
    assert read_bench_file(data, file="a").header.size_eu == Decimal(eu)


@pytest.mark.parametrize(
    ("system", "size", "key", "words"),
    [
        ("FR", "EU 43", "size_system", "Write EU, UK, US men, US women, mm"),
        ("UK", "EU 43", "size", "not a size in the system UK"),
        ("EU", "42.3", "size", "in halves"),
    ],
)
def test_size_outside_the_stated_system_is_named_by_its_key(system, size, key, words):
    problem = only_problem(f"# size_system = {system}\n".encode() + bench_bytes(size=size))
    assert problem.column == key
    assert words in problem.problem


def test_duplicate_key_is_named_with_both_lines():
    problem = only_problem(b"# shoe = other\n" + bench_bytes())
    assert (problem.line, problem.column) == (3, "shoe")
    assert "first on line 1" in problem.problem


@pytest.mark.parametrize("line", ["# = 3", f"# {'k' * 65} = 3", f"# note = {'v' * 501}"])
def test_unknown_keys_have_limits(line):
    assert "unknown keys are stored, but" in only_problem(f"{line}\n".encode() + bench_bytes()).problem


def test_a_hundred_and_first_unknown_key_is_refused():
    keys = "".join(f"# k{number} = 1\n" for number in range(101)).encode()
    assert only_problem(keys + bench_bytes()).line == 101


def test_missing_column_is_named():
    problem = only_problem(bench_bytes([], table_header="test,repeat,position,load"))
    assert (problem.line, problem.column) == (TABLE_LINE, "branch")


def test_columns_in_another_order_are_refused():
    problem = only_problem(bench_bytes([], table_header="repeat,test,branch,position,load"))
    assert "in this order" in problem.problem


def test_missing_table_is_named():
    data = "\n".join(f"# {key} = {value}" for key, value in HEADER.items()).encode()
    assert f"begins with the line {TABLE_HEADER}" in only_problem(data).problem


def test_table_without_rows_is_named():
    assert only_problem(bench_bytes([])).problem == "the table has no rows"


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("torsion,1,loading,ten,3.5", "position", "“ten” is not a number"),
        ("torsion,1,loading,10,nan", "load", "“nan” is not a number"),
        ("torsion,1,loading,10,inf", "load", "“inf” is not a number"),
        ("torsion,1,loading,10,1e999", "load", "too large"),
        ("torsion,1,loading,10,", "load", "“” is not a number"),
        ("torsion,0,loading,10,3.5", "repeat", "whole number"),
        ("torsion,1.5,loading,10,3.5", "repeat", "whole number"),
        ("bending,1,loading,10,3.5", "test", "write torsion or compression"),
        ("compressions,1,loading,10,3.5", "test", "write torsion or compression"),
        ("torsion,1,up,10,3.5", "branch", "write loading or unloading"),
        ("torsion,1,loading,10", "load", "5 values expected, got 4"),
        ("torsion,1,loading,10,3.5,7", "load", "5 values expected, got 6"),
        ("törsion,1,loading,10,3.5", "test", "write torsion or compression"),
        ("# note", "test", "comment lines belong above"),
        ("torsion,1,loading,95,3.5", "position", "accepted: −90 to 90 deg"),
        ("torsion,1,loading,10,900", "load", "accepted: −200 to 200 N*m"),
    ],
)
def test_bad_row_is_named_by_line_and_column(row, column, words):
    problem = only_problem(bench_bytes([TORSION[0], row, *TORSION[2:], *COMPRESSION]))
    assert (problem.line, problem.column) == (FIRST_ROW + 1, column)
    assert words in problem.problem


def test_every_problem_is_listed_at_once():
    rows = [TORSION[0], "torsion,x,loading,y,z", *COMPRESSION]
    problems = problems_of(bench_bytes(rows, side="L", heel_clamp="445 kg"))
    assert [problem.column for problem in problems] == ["side", "heel_clamp", "repeat", "position", "load"]


@pytest.mark.parametrize("load", ["x", "99999"])
def test_at_most_fifty_problems_are_listed(load):
    problems = problems_of(bench_bytes([f"torsion,1,loading,1,{load}"] * 200))
    assert len(problems) == 50


def test_curve_of_one_point_is_refused():
    assert "needs at least 2" in only_problem(bench_bytes([TORSION[0], *COMPRESSION])).problem


def test_a_header_full_of_problems_and_a_table_that_is_not_plain_are_refused():
    extra = [f"# side = {n}" for n in range(60)]
    text = bench_bytes(["torsion, 1,loading,0,0", *TORSION]).decode()
    assert len(problems_of("\n".join([*extra, text]).encode())) == 50


def test_file_in_utf_16_is_reported_in_one_line():
    problem = only_problem(bench_text().encode("utf-16"))
    assert (problem.line, problem.problem) == (1, "the file is UTF-16 (“Unicode text”); save it as CSV in UTF-8")


@pytest.mark.parametrize(("mark", "words"), [(";", "semicolons"), ("\t", "tabs")])
def test_other_separator_is_named(mark, words):
    header, rows = TABLE_HEADER.replace(",", mark), [row.replace(",", mark) for row in TORSION]
    problem = only_problem(bench_text(rows, table_header=header).encode())
    assert (problem.line, problem.problem) == (
        TABLE_LINE,
        f"the columns are separated by {words}; separate them by commas",
    )
