"""The bench file: comment lines ``# key = value``, then a tidy table of curves. SI arrays or every problem come out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from types import MappingProxyType
from typing import Any

import numpy as np

from core.domain.units import FloatArray, stored_unit, to_si
from labtests.domain.files import fields
from labtests.domain.files.curvetable import COLUMNS, read_table
from labtests.domain.files.header import (
    MAX_EXTRA,
    MAX_EXTRA_KEY,
    MAX_EXTRA_VALUE,
    REQUIRED_KEYS,
    Header,
    Reader,
    header_from,
    header_readers,
)
from labtests.domain.files.problems import FieldError, ProblemLog
from labtests.domain.files.textfile import decode_text

FORMAT = "bench-test/1"
MIN_POINTS = 2
# What spreadsheets write instead of commas, by their settings.
SEPARATORS = {";": "semicolons", "\t": "tabs"}
# Most values of a header stand in file after file: units, conditions, shoe, rig, operator.
REMEMBERED_VALUES = 4096
TABLE_HEADER = ",".join(COLUMNS)


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """One recorded branch in file order.

    ``position`` is in deg (torsion) or mm (compression), ``load`` in N·m or N; both of shape ``(n,)``, finite.
    """

    test: str
    repeat: int
    branch: str
    position: FloatArray
    load: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class BenchFile:
    """A bench file that was read without a problem. `lines` says where each key stands."""

    header: Header
    series: tuple[Series, ...]
    extra: dict[str, str]
    warnings: tuple[str, ...]
    lines: dict[str, int]


@dataclass(frozen=True, slots=True)
class _Comments:
    values: dict[str, Any]
    extra: dict[str, str]
    warnings: tuple[str, ...]
    lines: dict[str, int]
    table_line: int


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
        Curves in SI units, grouped by test, repeat and branch; unknown keys kept as `extra` with a warning each.

    Raises
    ------
    FileRejected
        With every problem found, up to 50. A curve that is well formed but too short is no problem here: it cannot be
        scored, so the test is held with the reason (`labtests.domain.evaluation`).

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
    series = _read_series(_below(text, lines, comments.table_line), comments, log) if columns_are_right else ()
    log.raise_if_any()
    return BenchFile(header_from(comments.values), series, comments.extra, comments.warnings, comments.lines)


def _lines_to_table(text: str) -> list[str]:
    """The lines down to the table's header where it is written as usual, else all: rows are not split without need."""
    end = text.find(f"\n{TABLE_HEADER}\n")
    return (text if end < 0 else text[: end + 1 + len(TABLE_HEADER)]).split("\n")


def _below(text: str, lines: list[str], table_line: int) -> str:
    return text[sum(len(line) + 1 for line in lines[:table_line]) :]


def _read_format(text: str) -> str:
    if text != FORMAT:
        raise FieldError(f"format {fields.shown(text)} is not known; this bench reads {FORMAT}")
    return text


def _read_unit_pair(text: str, *, quantities: tuple[str, str]) -> tuple[str, str]:
    parts = text.split(",")
    if len(parts) != 2:
        raise FieldError(f"{fields.shown(text)} must be two units with a comma between: position, load")
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
    """Read the comment lines above the table; `table_line` counts from 1."""
    seen: dict[str, int] = {}
    found = _Comments({}, {}, (), {}, 0)
    warnings: list[str] = []
    number = 0
    for number, line in enumerate(lines, start=1):
        text = line.strip()
        if text and not text.startswith("#"):
            break
        if text:
            _read_comment(text, number, (seen, found, warnings), log)
    else:
        number = len(lines) + 1
    for key in ("format", *REQUIRED_KEYS):
        if key not in seen:
            log.add(1, key, f"the line '# {key} = …' is missing")
    return _Comments(found.values, found.extra, tuple(warnings), seen, number)


def _read_comment(
    text: str,
    number: int,
    state: tuple[dict[str, int], _Comments, list[str]],
    log: ProblemLog,
) -> None:
    seen, found, warnings = state
    key, equals, value = _split_comment(text)
    if not equals:
        warnings.append(f"line {number}: not of the form '# key = value', left aside")
        return
    if key in seen:
        log.add(number, key[:MAX_EXTRA_KEY], f"the key {fields.shown(key)} is given twice, first on line {seen[key]}")
        return
    seen[key] = number
    if key not in READERS:
        _keep_extra(key, value, number, (found.extra, warnings), log)
        return
    try:
        found.values[key] = _read_value(key, value)
    except FieldError as error:
        log.add(number, key, str(error))


def _keep_extra(key: str, value: str, number: int, kept: tuple[dict[str, str], list[str]], log: ProblemLog) -> None:
    extra, warnings = kept
    if not key or len(key) > MAX_EXTRA_KEY or len(value) > MAX_EXTRA_VALUE or len(extra) >= MAX_EXTRA:
        log.add(
            number,
            key[:MAX_EXTRA_KEY],
            f"unknown keys are kept, but at most {MAX_EXTRA} of them, with names of 1 to {MAX_EXTRA_KEY} and values "
            f"of up to {MAX_EXTRA_VALUE} characters",
        )
        return
    extra[key] = value
    warnings.append(f"line {number}: the key {fields.shown(key)} is not known; it is kept as written")


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


def _read_series(text: str, comments: _Comments, log: ProblemLog) -> tuple[Series, ...]:
    table = read_table(text, first_line=comments.table_line + 1, log=log)
    _check_unit_keys(table.tests, comments, log)
    if log.problems:
        return ()
    series = []
    for group in table.groups:
        quantities = ("angle", "torque") if group.test == "torsion" else ("displacement", "force")
        units = comments.values[f"{group.test}_units"]
        if group.position.size < MIN_POINTS:
            log.add(group.line, "position", f"{group.name} has one point; a curve needs at least {MIN_POINTS}")
        position = _in_kept_unit(group.position, units[0], quantities[0])
        load = _in_kept_unit(group.load, units[1], quantities[1])
        _check_range(group.lines, position, ("position", quantities[0]), log)
        _check_range(group.lines, load, ("load", quantities[1]), log)
        series.append(Series(group.test, group.repeat, group.branch, position, load))
    return tuple(series)


def _check_unit_keys(tests: frozenset[str], comments: _Comments, log: ProblemLog) -> None:
    already = {problem.column for problem in log.problems}
    for test in sorted(tests):
        key = f"{test}_units"
        if key not in comments.values and key not in already:
            log.add(1, key, f"the table has rows of {test}, but the line '# {key} = …' is missing")


def _in_kept_unit(values: FloatArray, unit: str, name: str) -> FloatArray:
    return to_si(values, unit, quantity=fields.MEASURES[name].quantity)


def _check_range(lines: Sequence[int], values: FloatArray, column: tuple[str, str], log: ProblemLog) -> None:
    measure = fields.MEASURES[column[1]]
    if values.min() >= measure.low and values.max() <= measure.high:
        return
    for index in np.flatnonzero((values < measure.low) | (values > measure.high)).tolist():
        log.add(
            lines[index],
            column[0],
            f"{column[1]} of {values[index]:g} {stored_unit(measure.quantity)} makes no sense; "
            f"accepted is {measure.low:g} to {measure.high:g} {stored_unit(measure.quantity)}",
        )
        if log.is_full:
            return
