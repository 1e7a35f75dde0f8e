"""Loggers' files: the shapes that are read, and what is refused by line and column."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from labtests.domain.files.climatefile import MAX_ROWS, read_climate

NOW = dt.datetime(2026, 4, 1, tzinfo=dt.UTC)
OSLO = ZoneInfo("Europe/Oslo")


def read(text, *, zone=None, unit="", now=NOW):
    return read_climate(text.encode(), name="a.csv", zone=zone, unit=unit, now=now)


def only_problem(text, **options):
    table, problems = read(text, **options)
    assert table is None
    assert len(problems) == 1, problems
    return problems[0]


@pytest.mark.parametrize(
    "text",
    [
        "time,temperature [degC],humidity [%]\n2026-03-02T10:00:00+01:00,23.5,48\n",
        "Timestamp;Temp (°C);RH (%)\n2026-03-02T09:00Z;23,5;48\n",
        "Date/Time\tTemperature_C\tRelative humidity\n2026-03-02 10:00:00+01:00\t23.5\t48%\n",
        "Logger 17\nserial,4711\n\ntime,temp [F],rh\n2026-03-02T09:00:00+00:00,74.3,48\n",
        "\ufefftime,temperature °C,humidity\n2026-03-02T09:00:00+00:00,23.5,48\n\n",
    ],
)
def test_common_shapes_are_read_alike(text):
    table, problems = read(text)
    assert problems == ()
    assert table.first_at == dt.datetime(2026, 3, 2, 9, tzinfo=dt.UTC)
    assert table.temperatures_c.tolist() == pytest.approx([23.5])
    assert table.humidities.tolist() == [48.0]


@pytest.mark.parametrize("written", ["2026-03-02 10:00", "02.03.2026 10:00", "2026/03/02 10:00:00"])
def test_times_without_offset_are_read_in_the_zone_of_the_file(written):
    table, _ = read(f"time,temperature [degC]\n{written},23\n", zone=OSLO)
    assert table.first_at == dt.datetime(2026, 3, 2, 9, tzinfo=dt.UTC)
    assert table.humidities.size == 0


def test_date_and_time_in_two_columns_and_unit_of_the_file():
    table, problems = read("date;time;temp\n2026-03-02;10:00;73,4\n", zone=OSLO, unit="degF")
    assert problems == ()
    assert table.temperatures_c.tolist() == pytest.approx([23.0])


def test_rows_come_in_the_order_of_time_and_same_readings_have_one_hash():
    one, _ = read("time,temperature [degC]\n2026-03-02T11:00Z,24\n2026-03-02T10:00Z,23\n")
    other, _ = read("time;temp (C)\n2026-03-02T11:00+01:00;23\n2026-03-02T12:00+01:00;24\n")
    assert one.temperatures_c.tolist() == [23.0, 24.0]
    assert one.sha256 == other.sha256
    third, _ = read("time;temp (C)\n2026-03-02T11:00+01:00;23\n2026-03-02T12:00+01:00;24.1\n")
    assert third.sha256 != one.sha256


@pytest.mark.parametrize(
    ("row", "options", "column", "words"),
    [
        ("2026-03-02 10:00,23", {}, "time", "choose the time zone"),
        ("2026-03-29 02:30,23", {"zone": OSLO}, "time", "does not exist in Europe/Oslo"),
        ("2025-10-26 02:30,23", {"zone": OSLO}, "time", "appears twice in Europe/Oslo"),
        ("03/02/2026 10:00,23", {"zone": OSLO}, "time", "day/month or month/day"),
        ("yesterday,23", {"zone": OSLO}, "time", "is not a time"),
        ("2026-05-02T10:00Z,23", {}, "time", "is in the future"),
        ("1999-05-02T10:00Z,23", {}, "time", "makes no sense"),
        ("2026-03-02T10:00Z,warm", {}, "temperature", "is not a number"),
        ("2026-03-02T10:00Z,nan", {}, "temperature", "is not a number"),
        ("2026-03-02T10:00Z,230", {}, "temperature", "makes no sense"),
        ("2026-03-02T10:00Z", {}, "file", "the row has 1 cells"),
    ],
)
def test_bad_row_is_named(row, options, column, words):
    problem = only_problem(f"time,temperature [degC]\n{row}\n", **options)
    assert (problem.line, problem.column) == (2, column)
    assert words in problem.problem


def test_humidity_above_all_of_it_is_named_and_missing_is_missing():
    head = "time,temperature [degC],humidity [%]\n2026-03-02T10:00Z,23,"
    assert only_problem(f"{head}101\n").column == "humidity"
    table, _ = read(f"{head}\n")
    assert str(table.humidities[0]) == "nan"


def test_same_time_twice_is_named():
    problem = only_problem("time,temperature [degC]\n2026-03-02T10:00Z,23\n2026-03-02T11:00+01:00,24\n")
    assert (problem.line, problem.column) == (3, "time")


@pytest.mark.parametrize(
    ("text", "options", "words"),
    [
        ("a,b\n1,2\n", {}, "no header"),
        ("time,temperature\n2026-03-02T10:00Z,23\n", {}, "the unit is not stated"),
        ("time,temperature [degC]\n2026-03-02T10:00Z,23\n", {"unit": "degF"}, "correct the choice"),
        ("time,temperature [K]\n2026-03-02T10:00Z,296\n", {}, "is not known for temperature"),
        ("time,temp [C],temp [C]\n2026-03-02T10:00Z,23,23\n", {}, "two columns of temperature"),
        ("when,temp [C]\n2026-03-02T10:00Z,23\n", {}, "no column of time"),
        ("time,temperature [degC]\n", {}, "no readings"),
        ("", {}, "the file is empty"),
    ],
)
def test_bad_file_is_refused(text, options, words):
    assert words in only_problem(text, **options).problem


def test_too_many_rows_are_refused():
    start = dt.datetime(2025, 3, 2, tzinfo=dt.UTC)
    rows = (f"{(start + dt.timedelta(minutes=n)).isoformat()},23" for n in range(MAX_ROWS + 1))
    assert "send the file in parts" in only_problem("time,temp [C]\n" + "\n".join(rows)).problem
