"""The bench file: comment lines ``# key = value``, then a tidy table of curves. SI arrays or every problem come out."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, partial
from types import MappingProxyType
from typing import Any

import numpy as np

from core.domain.figures import figure
from core.domain.quoting import quoted
from core.domain.units import FloatArray, stored_unit, to_si
from labtests.domain.files import fields
from labtests.domain.files.curveruns import TESTS
from labtests.domain.files.curvetable import COLUMNS, read_table
from labtests.domain.files.header import (
    MAX_EXTRA,
    MAX_EXTRA_KEY,
    MAX_EXTRA_VALUE,
    REQUIRED_KEYS,
    SIZE_SYSTEM,
    Header,
    Reader,
    header_from,
    header_readers,
    size_in_system,
)
from labtests.domain.files.problems import FieldError, ProblemLog
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.files.textfile import decode_text

FORMAT = "bench-test/1"
MIN_POINTS = 2
# What spreadsheets write instead of commas, by their settings.
SEPARATORS = {";": "semicolons", "\t": "tabs"}
# Most values of a header are the same in file after file: units, conditions, shoe, rig, operator.
REMEMBERED_VALUES = 4096
TABLE_HEADER = ",".join(COLUMNS)
# What the rig measures in each test: the position and the load.
MEASURED = {"torsion": ("angle", "torque"), "compression": ("displacement", "force")}


@dataclass(frozen=True, slots=True, eq=False)
class BenchFile:
    """A bench file that was read without a problem. `lines` says where each key is."""

    header: Header
    curves: tuple[RecordedCurve, ...]
    extra: dict[str, str]
    warnings: tuple[str, ...]
    lines: dict[str, int]


@dataclass(slots=True)
class _Comments:
    """What the comment lines above the table say, filled line by line; the table's line counts from 1."""

    values: dict[str, Any] = field(default_factory=dict)
    extra: dict[str, str] = field(default_factory=dict)
    warnings: list[str] = field(default_factory=list)
    lines: dict[str, int] = field(default_factory=dict)
    table_line: int = 0


def read_bench_file(data: bytes, *, file: str) -> BenchFile:
    """Read a bench file.

    Parameters
    ----------
    data : bytes
        UTF-8 text, at most 20 MB.
    file : str
        Its name, repeated in each problem.

    Returns
    -------
    BenchFile
        Curves in SI units, grouped by test, repeat and branch; unknown keys stored as `extra` with a warning each.

    Raises
    ------
    FileRejected
        With every problem found, up to 50. A curve that is well formed but too short is no problem here: it cannot be
        scored, so the test is held with the reason (`labtests.domain.scores.evaluation`).

    Examples
    --------
    >>> from labtests.domain.files.problems import FileRejected
    >>> try:
    ...     read_bench_file(b"# format = bench-test/2", file="a.csv")
    ... except FileRejected as rejected:
    ...     print(rejected.problems[0].column)
    format
    """
    log = ProblemLog(file)
    text = decode_text(data, log)
    lines = _lines_to_table(text)
    comments = _read_comments(lines, log)
    columns_are_right = _check_table_header(lines, comments.table_line, log)
    curves = _read_curves(_below(text, lines, comments.table_line), comments, log) if columns_are_right else ()
    log.raise_if_any()
    return BenchFile(header_from(comments.values), curves, comments.extra, tuple(comments.warnings), comments.lines)


def _lines_to_table(text: str) -> list[str]:
    """The lines down to the table's header where it is written as usual, else all: rows are not split without need."""
    end = text.find(f"\n{TABLE_HEADER}\n")
    return (text if end < 0 else text[: end + 1 + len(TABLE_HEADER)]).split("\n")


def _below(text: str, lines: list[str], table_line: int) -> str:
    return text[sum(len(line) + 1 for line in lines[:table_line]) :]


def _read_format(text: str) -> str:
    if text != FORMAT:
        raise FieldError(f"format {quoted(text)} is not known; this bench reads {FORMAT}")
    return text


def _read_unit_pair(text: str, *, quantities: tuple[str, str]) -> tuple[str, str]:
    parts = text.split(",")
    if len(parts) != 2:
        raise FieldError(f"{quoted(text)} must be two units with a comma between: position, load")
    return fields.read_unit(parts[0], quantity=quantities[0]), fields.read_unit(parts[1], quantity=quantities[1])


READERS: Mapping[str, Reader] = MappingProxyType(
    {
        "format": _read_format,
        **header_readers(),
        "torsion_units": partial(_read_unit_pair, quantities=("angle", "torque")),
        "compression_units": partial(_read_unit_pair, quantities=("length", "force")),
    }
)


@lru_cache(REMEMBERED_VALUES)
def _split_comment(text: str) -> tuple[str, str, str]:
    key, equals, value = text[1:].partition("=")
    return key.strip(), equals, value.strip()


@lru_cache(REMEMBERED_VALUES)
def _read_value(key: str, text: str) -> Any:
    return READERS[key](text)


def _read_comments(lines: list[str], log: ProblemLog) -> _Comments:
    comments = _Comments(table_line=len(lines) + 1)
    for number, line in enumerate(lines, start=1):
        text = line.strip()
        if text and not text.startswith("#"):
            comments.table_line = number
            break
        if text:
            _read_comment(text, number, comments, log)
    try:
        size_in_system(comments.values, stated=SIZE_SYSTEM in comments.lines)
    except FieldError as error:
        log.add(comments.lines["size"], "size", str(error))
    for key in ("format", *REQUIRED_KEYS):
        if key not in comments.lines:
            log.add(1, key, f"the line “# {key} = …” is missing")
    return comments


def _read_comment(text: str, number: int, comments: _Comments, log: ProblemLog) -> None:
    key, equals, value = _split_comment(text)
    if not equals:
        comments.warnings.append(f"line {number}: not of the form “# key = value”, ignored")
        return
    if key in comments.lines:
        first = comments.lines[key]
        log.add(number, key[:MAX_EXTRA_KEY], f"the key {quoted(key)} is given twice, first on line {first}")
        return
    comments.lines[key] = number
    if key not in READERS:
        _store_extra(key, value, number, comments, log)
        return
    try:
        comments.values[key] = _read_value(key, value)
    except FieldError as error:
        log.add(number, key, str(error))


def _store_extra(key: str, value: str, number: int, comments: _Comments, log: ProblemLog) -> None:
    is_too_long = len(key) > MAX_EXTRA_KEY or len(value) > MAX_EXTRA_VALUE
    if not key or is_too_long or len(comments.extra) >= MAX_EXTRA:
        log.add(
            number,
            key[:MAX_EXTRA_KEY],
            f"unknown keys are stored, but at most {MAX_EXTRA} of them, with names of 1 to {MAX_EXTRA_KEY} and values "
            f"of up to {MAX_EXTRA_VALUE} characters",
        )
        return
    comments.extra[key] = value
    comments.warnings.append(f"line {number}: the key {quoted(key)} is not known; it is stored as written")


def _check_table_header(lines: list[str], table_line: int, log: ProblemLog) -> bool:
    if table_line > len(lines):
        log.add(len(lines), "test", f"the table is missing; it begins with the line {TABLE_HEADER}")
        return False
    header = lines[table_line - 1]
    names = [name.strip() for name in header.split(",")]
    if names == list(COLUMNS):
        return True
    for mark, words in SEPARATORS.items():
        if [name.strip() for name in header.split(mark)] == list(COLUMNS):
            log.add(table_line, COLUMNS[0], f"the columns are separated by {words}; separate them by commas")
            return False
    missing = [name for name in COLUMNS if name not in names]
    for name in missing:
        log.add(table_line, name, f"the column {name} is missing; the table begins with the line {TABLE_HEADER}")
    if not missing:
        log.add(table_line, names[0][:MAX_EXTRA_KEY], f"the columns must be, in this order, {TABLE_HEADER}")
    return False


def _read_curves(text: str, comments: _Comments, log: ProblemLog) -> tuple[RecordedCurve, ...]:
    table = read_table(text, first_line=comments.table_line + 1, log=log)
    _check_unit_keys(table.tests, comments, log)
    if log.problems:
        return ()
    of_tests = ([curve for curve in table.curves if curve.test == test] for test in TESTS if test in table.tests)
    return tuple(curve for curves in of_tests for curve in _in_stored_units(curves, comments, log))


def _in_stored_units(curves: list[RecordedCurve], comments: _Comments, log: ProblemLog) -> Iterator[RecordedCurve]:
    """Convert the curves of one test, and name what no rig can have measured."""
    test = curves[0].test
    for curve in curves:
        if curve.position.size < MIN_POINTS:
            log.add(curve.lines[0], "position", f"{curve.name} has one point; a curve needs at least {MIN_POINTS}")
    columns = []
    is_converted = False
    for column, name, unit in zip(("position", "load"), MEASURED[test], comments.values[f"{test}_units"], strict=True):
        written = np.concatenate([getattr(curve, column) for curve in curves])
        columns.append(to_si(written, unit, quantity=fields.MEASURES[name].quantity))
        is_converted |= columns[-1] is not written
        _check_range(curves, columns[-1], (column, name), log)
    if not is_converted:
        yield from curves
        return
    end = 0
    for curve in curves:
        start, end = end, end + curve.load.size
        position, load = (values[start:end] for values in columns)
        yield RecordedCurve(test, curve.repeat, curve.branch, position, load, curve.lines)


def _check_unit_keys(tests: frozenset[str], comments: _Comments, log: ProblemLog) -> None:
    already = {problem.column for problem in log.problems}
    for test in sorted(tests):
        key = f"{test}_units"
        if key not in comments.values and key not in already:
            log.add(1, key, f"the table has rows of {test}, but the line “# {key} = …” is missing")


def _check_range(curves: Sequence[RecordedCurve], values: FloatArray, column: tuple[str, str], log: ProblemLog) -> None:
    """Name the values of all these curves that are out of range."""
    measure = fields.MEASURES[column[1]]
    if values.min() >= measure.low and values.max() <= measure.high:
        return
    lines = [*itertools.chain.from_iterable(curve.lines for curve in curves)]
    for index in np.flatnonzero((values < measure.low) | (values > measure.high)).tolist():
        log.add(
            lines[index],
            column[0],
            f"{column[1]} of {figure(values[index])} {stored_unit(measure.quantity)} makes no sense; "
            f"accepted: {figure(measure.low)} to {figure(measure.high)} {stored_unit(measure.quantity)}",
        )
        if log.is_full:
            return
