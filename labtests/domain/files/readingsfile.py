"""The readings file: one row a specimen and repeat, columns with their units in brackets."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from core.domain.quoting import quoted
from labtests.domain.files import fields
from labtests.domain.files.header import (
    CONDITIONS,
    IDENTITY,
    MAX_EXTRA,
    MAX_EXTRA_KEY,
    MAX_EXTRA_VALUE,
    OPTIONAL,
    SIZE_SYSTEM,
    Conditions,
    Header,
    Reader,
    conditions_from,
    header_from,
    size_in_system,
)
from labtests.domain.files.problems import FieldError, ProblemLog
from labtests.domain.files.textfile import decode_lines

READINGS = ("torque_15", "deflection")
REQUIRED = (*IDENTITY, *CONDITIONS, "repeat", *READINGS)
SAME_IN_A_TEST = ("shoe", "size", "side", "rig", "operator")
COLUMN_NAME = re.compile(r"([^\[\]]+?)(?:\s*\[([^\[\]]*)\])?")


@dataclass(frozen=True, slots=True)
class RepeatReading:
    """What was read off the rig in one repeat, and the conditions it was read in."""

    repeat: int
    torque_15_nm: float
    deflection_mm: float
    conditions: Conditions


@dataclass(frozen=True, slots=True)
class ReadingsTest:
    """The repeats of one specimen in a readings file; the header holds the first repeat's time and conditions."""

    header: Header
    repeats: tuple[RepeatReading, ...]
    extra: dict[str, str]
    line: int


@dataclass(frozen=True, slots=True)
class ReadingsFile:
    """A readings file that was read without a problem: one test a specimen, in the order of their first rows."""

    tests: tuple[ReadingsTest, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    values: dict[str, Any]
    extra: dict[str, str]


@dataclass(frozen=True, slots=True)
class _Columns:
    """For each known column its place and reader; for each other its place."""

    readers: Mapping[str, tuple[int, Reader]]
    others: Mapping[str, int]
    count: int


def is_readings_file(data: bytes) -> bool:
    """Tell a readings file from a bench file: its first line that is no comment names a column ``specimen``.

    Examples
    --------
    >>> is_readings_file(b"shoe,specimen,size")
    True
    """
    with io.TextIOWrapper(io.BytesIO(data), encoding="utf-8-sig", errors="replace") as lines:
        first = next(filter(_is_table_line, lines), "")
    return "specimen" in [name.strip().strip('"') for name in first.split(",")]


def read_readings_file(data: bytes, *, file: str) -> ReadingsFile:
    """Read a readings file.

    Parameters
    ----------
    data : bytes
        UTF-8 text, at most 20 MB.
    file : str
        Its name, repeated in each problem.

    Returns
    -------
    ReadingsFile
        Values in the stored units; unknown columns stored with a warning each.

    Raises
    ------
    FileRejected
        With every problem found, up to 50.

    Examples
    --------
    >>> from labtests.domain.files.problems import FileRejected
    >>> try:
    ...     read_readings_file(b"shoe,specimen", file="a.csv")
    ... except FileRejected as rejected:
    ...     print(rejected.problems[0].problem)
    the column size is missing
    """
    log = ProblemLog(file)
    lines = decode_lines(data, log)
    numbered = [(number, line) for number, line in enumerate(lines, start=1) if _is_table_line(line)]
    if not numbered:
        log.reject(1, "specimen", "the table is missing")
    header_line, header = numbered[0]
    columns, warnings = _read_columns(_cells(header, header_line, log), header_line, log)
    log.raise_if_any()
    rows = []
    for number, line in numbered[1:]:
        if log.is_full:
            break
        rows.append(_read_row(_cells(line, number, log), number, columns, log))
    if not rows:
        log.add(header_line, "specimen", "the table has no rows")
    tests = _group(rows, log) if not log.problems else ()
    log.raise_if_any()
    return ReadingsFile(tests, tuple(warnings))


def _is_table_line(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _cells(line: str, number: int, log: ProblemLog) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line], strict=True))]
    except csv.Error as error:
        log.add(number, "file", f"the line cannot be split into values: {error}")
        return []


def _column_reader(name: str, unit: str | None) -> Reader:
    if name in fields.MEASURES:
        if unit is None:
            raise FieldError(f"the column {name} needs its unit in brackets")
        return partial(
            fields.read_in_unit, unit=fields.read_unit(unit, quantity=fields.MEASURES[name].quantity), name=name
        )
    if unit is not None:
        raise FieldError(f"the column {name} has no unit, got {quoted(unit)}")
    return fields.read_size_system if name == SIZE_SYSTEM else IDENTITY.get(name, fields.read_repeat)


def _read_columns(cells: list[str], line: int, log: ProblemLog) -> tuple[_Columns, list[str]]:
    readers: dict[str, tuple[int, Reader]] = {}
    others: dict[str, int] = {}
    warnings = []
    for index, cell in enumerate(cells):
        match = COLUMN_NAME.fullmatch(cell)
        name, unit = (match[1].strip(), match[2]) if match else (cell, None)
        if name in readers or name in others:
            log.add(line, name[:MAX_EXTRA_KEY], f"the column {quoted(name)} is given twice")
        elif name in REQUIRED or name in OPTIONAL or name == SIZE_SYSTEM:
            readers[name] = (index, _reader_or_problem(name, unit, line, log))
        elif not name or len(cell) > MAX_EXTRA_KEY or len(others) >= MAX_EXTRA:
            log.add(line, name[:MAX_EXTRA_KEY], f"column {index + 1} needs a name of up to {MAX_EXTRA_KEY} characters")
        else:
            others[name] = index
            warnings.append(f"line {line}: the column {quoted(cell)} is not known; it is stored as written")
    for name in REQUIRED:
        if name not in readers:
            log.add(line, name, f"the column {name} is missing")
    return _Columns(readers, others, len(cells)), warnings


def _reader_or_problem(name: str, unit: str | None, line: int, log: ProblemLog) -> Reader:
    try:
        return _column_reader(name, unit)
    except FieldError as error:
        log.add(line, name, str(error))
        return fields.read_number


def _read_row(cells: list[str], line: int, columns: _Columns, log: ProblemLog) -> _Row:
    values: dict[str, Any] = {}
    if len(cells) != columns.count:
        log.add(line, "file", f"{columns.count} values expected, got {len(cells)}")
        return _Row(line, values, {})
    for name, (index, reader) in columns.readers.items():
        if name in (*OPTIONAL, SIZE_SYSTEM) and not cells[index]:
            continue
        try:
            values[name] = reader(cells[index])
        except FieldError as error:
            log.add(line, name, str(error))
    _read_size(values, cells, line, columns, log)
    extra = {name: cells[index] for name, index in columns.others.items() if cells[index]}
    for name, value in extra.items():
        if len(value) > MAX_EXTRA_VALUE:
            log.add(line, name, f"values of unknown columns may have up to {MAX_EXTRA_VALUE} characters")
    return _Row(line, values, extra)


def _read_size(values: dict[str, Any], cells: list[str], line: int, columns: _Columns, log: ProblemLog) -> None:
    place = columns.readers.get(SIZE_SYSTEM)
    try:
        size_in_system(values, stated=place is not None and bool(cells[place[0]]))
    except FieldError as error:
        log.add(line, "size", str(error))


def _group(rows: list[_Row], log: ProblemLog) -> tuple[ReadingsTest, ...]:
    by_specimen: dict[str, list[_Row]] = {}
    for row in rows:
        by_specimen.setdefault(row.values["specimen"], []).append(row)
    return tuple(_test_from(group, log) for group in by_specimen.values())


def _test_from(rows: list[_Row], log: ProblemLog) -> ReadingsTest:
    first = rows[0]
    seen: dict[int, int] = {}
    for row in rows:
        for name in SAME_IN_A_TEST:
            if row.values[name] != first.values[name]:
                log.add(row.line, name, f"differs from the same specimen’s value on line {first.line}")
        repeat = row.values["repeat"]
        if repeat in seen:
            log.add(row.line, "repeat", f"repeat {repeat} of this specimen is already on line {seen[repeat]}")
        seen[repeat] = row.line
    repeats = tuple(
        RepeatReading(
            repeat=row.values["repeat"],
            torque_15_nm=row.values["torque_15"],
            deflection_mm=row.values["deflection"],
            conditions=conditions_from(row.values),
        )
        for row in rows
    )
    return ReadingsTest(header_from(first.values), repeats, first.extra, first.line)
