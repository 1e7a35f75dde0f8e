"""The readings file: rows become tests, one a specimen; anything else is named by line and column."""

from __future__ import annotations

import pytest

from labtests.domain.files.problems import FileRejected
from labtests.domain.files.readingsfile import is_readings_file, read_readings_file
from tests.labtests.bench_text import READINGS_COLUMNS, READINGS_ROW, bench_bytes, readings_bytes


def problems_of(data: bytes):
    with pytest.raises(FileRejected) as caught:
        read_readings_file(data, file="r.csv")
    return caught.value.problems


def only_problem(data: bytes):
    problems = problems_of(data)
    assert len(problems) == 1, problems
    return problems[0]


def test_repeats_of_a_specimen_become_one_test():
    rows = [
        READINGS_ROW.format(1, 5.1, 5.9),
        READINGS_ROW.format(1, 5.5, 5.8).replace("F2-01", "F2-02"),
        READINGS_ROW.format(2, 5.2, 6.0).replace(",22.6,", ",23.6,"),
    ]
    first, second = read_readings_file(readings_bytes(rows), file="r.csv").tests
    assert first.header.specimen == "F2-01"
    assert [(item.repeat, item.torque_15_nm, item.deflection_mm) for item in first.repeats] == [
        (1, 5.1, 5.9),
        (2, 5.2, 6.0),
    ]
    assert [item.conditions.temperature_c for item in first.repeats] == [22.6, 23.6]
    assert second.header.specimen == "F2-02"
    assert (first.line, second.line) == (2, 3)


def test_inch_pound_columns_are_converted():
    columns = READINGS_COLUMNS.replace("[degC]", "[degF]").replace("[N*m]", "[in*lbf]").replace("[N]", "[lbf]")
    row = READINGS_ROW.format(1, 45, 5.9).replace(",22.6,445,178,", ",72.7,101,39.5,")
    repeat = read_readings_file(readings_bytes([row], columns=columns), file="r").tests[0].repeats[0]
    assert repeat.torque_15_nm == pytest.approx(45 * 0.1129848290276167)
    assert repeat.conditions.heel_clamp_n == pytest.approx(101 * 4.4482216152605)
    assert repeat.conditions.temperature_c == pytest.approx((72.7 - 32) / 1.8)


def test_optional_columns_may_be_blank():
    data = readings_bytes(
        [READINGS_ROW.format(1, 5.1, 5.9) + ",12,", READINGS_ROW.format(2, 5.1, 5.9) + ",,274"],
        columns=READINGS_COLUMNS + ",worn [km],mass [g]",
    )
    header = read_readings_file(data, file="r").tests[0].header
    assert (header.worn_km, header.mass_g) == (12.0, None)


def test_unknown_column_is_kept_with_a_warning():
    data = readings_bytes([READINGS_ROW.format(1, 5.1, 5.9) + ",dry"], columns=READINGS_COLUMNS + ",weather [word]")
    readings = read_readings_file(data, file="r")
    assert readings.tests[0].extra == {"weather": "dry"}
    assert "“weather [word]” is not known" in readings.warnings[0]


def test_quoted_cells_and_comments_are_read():
    data = b"# made by hand\n" + readings_bytes([READINGS_ROW.format(1, 5.1, 5.9).replace("EU 42.5", '"EU 42.5"')])
    assert len(read_readings_file(data, file="r").tests) == 1


def test_kind_of_file_is_recognised_by_its_columns():
    assert is_readings_file(readings_bytes())
    assert not is_readings_file(bench_bytes())
    assert not is_readings_file(b"# only = comments")


def test_missing_table_is_named():
    assert only_problem(b"# specimen").problem == "the table is missing"


def test_table_without_rows_is_named():
    assert only_problem(readings_bytes([])).problem == "the table has no rows"


@pytest.mark.parametrize(
    ("old", "new", "column", "words"),
    [
        ("deflection [mm]", "depth [mm]", "deflection", "is missing"),
        ("deflection [mm]", "deflection", "deflection", "needs its unit in brackets"),
        ("deflection [mm]", "deflection [cm]", "deflection", "use mm or in"),
        ("specimen", "specimen [mm]", "specimen", "has no unit"),
        ("deflection [mm]", "deflection [mm],specimen", "specimen", "given twice"),
        ("deflection [mm]", "deflection [mm],", "", "needs a name"),
    ],
)
def test_bad_column_is_named(old, new, column, words):
    problem = only_problem(readings_bytes(columns=READINGS_COLUMNS.replace(old, new)))
    assert (problem.line, problem.column) == (1, column)
    assert words in problem.problem


@pytest.mark.parametrize(
    ("old", "new", "column", "words"),
    [
        ("5.9", "deep", "deflection", "is not a number"),
        ("5.9", "nan", "deflection", "is not a number"),
        ("5.9", "0", "deflection", "accepted: 0.01 to 100 mm"),
        ("EU 42.5", "42.5", "size", "write it as"),
        ("EU 42.5", '"EU 42.5', "file", "cannot be split"),
        (",5.9", "", "file", "14 values expected, got 13"),
    ],
)
def test_bad_cell_is_named_by_line_and_column(old, new, column, words):
    problem = problems_of(readings_bytes([READINGS_ROW.format(1, 5.1, 5.9).replace(old, new)]))[0]
    assert (problem.line, problem.column) == (2, column)
    assert words in problem.problem


def test_size_is_read_in_the_system_of_its_row_and_named_by_line_where_it_is_none():
    columns = f"{READINGS_COLUMNS},size_system"
    rows = [
        READINGS_ROW.format(1, 5.1, 5.9).replace("EU 42.5", "8") + ",UK",
        READINGS_ROW.format(1, 5.1, 5.9).replace("F2-01", "F2-02") + ",",
    ]
    first, second = read_readings_file(readings_bytes(rows, columns=columns), file="r.csv").tests
    assert (str(first.header.size_eu), str(second.header.size_eu)) == ("41.5", "42.5")
    bad = READINGS_ROW.format(1, 5.1, 5.9).replace("F2-01", "F2-03") + ",UK"
    problem = only_problem(readings_bytes([*rows, bad], columns=columns))
    assert (problem.line, problem.column) == (4, "size")


def test_specimen_that_changes_its_shoe_or_repeats_a_number_is_refused():
    rows = [READINGS_ROW.format(1, 5.1, 5.9), READINGS_ROW.format(1, 5.1, 5.9).replace("fenrunner-2", "other")]
    problems = problems_of(readings_bytes(rows))
    assert [(problem.line, problem.column) for problem in problems] == [(3, "shoe"), (3, "repeat")]


def test_value_of_an_unknown_column_has_a_limit():
    data = readings_bytes([READINGS_ROW.format(1, 5.1, 5.9) + "," + "v" * 501], columns=READINGS_COLUMNS + ",note")
    assert only_problem(data).column == "note"


def test_at_most_fifty_problems_are_listed():
    assert len(problems_of(readings_bytes([READINGS_ROW.format(1, "x", 5.9)] * 200))) == 50
