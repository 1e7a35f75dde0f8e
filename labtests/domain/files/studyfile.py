"""Tables of numbers from elsewhere: some columns of names, one of values; read with every problem by line."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from core.domain.quoting import quoted
from labtests.domain.files.problems import ProblemLog
from labtests.domain.files.textfile import decode_lines

VALUE = "value"
MAX_ROWS = 5000
MAX_NAME = 60
MAX_LINE = 2000
MAX_VALUE = 1e15
"""Whatever the unit: larger numbers are slips, and their fourth powers could not be represented."""
DELIMITERS = (",", ";", "\t")


@dataclass(frozen=True, slots=True)
class StudyRow:
    """One reading: its names in the order asked for, its value, the line it is on (from 1)."""

    names: tuple[str, ...]
    value: float
    line: int


def read_study_table(data: bytes, columns: Sequence[str], *, file: str = "table") -> tuple[StudyRow, ...]:
    """Read a table with a heading line, such as part, operator, trial, value.

    Parameters
    ----------
    data : bytes
        UTF-8 text; commas, semicolons or tabs between the columns, decimal points in the numbers.
    columns : sequence of str
        The columns of names that must be there beside `value`; others are passed over, order does not matter.
    file : str
        Name in the problems.

    Returns
    -------
    tuple of StudyRow
        At most `MAX_ROWS`, in the order of the table; empty lines are passed over.

    Raises
    ------
    FileRejected
        With every problem by line and column.

    Examples
    --------
    >>> read_study_table(b"lab,value\\nA,4.5\\nB,4.6", ["lab"])[1]
    StudyRow(names=('B',), value=4.6, line=3)
    """
    log = ProblemLog(file)
    lines = decode_lines(data, log)
    for number, line in enumerate(lines, start=1):
        if len(line) > MAX_LINE:
            log.reject(number, "file", f"the line has {len(line)} characters; at most {MAX_LINE} are accepted")
    start = next(number for number, line in enumerate(lines) if line.strip())
    delimiter = max(DELIMITERS, key=lines[start].count)
    places = _places(lines[start], delimiter, columns, log, start + 1)
    rows: list[StudyRow | None] = []
    for number, line in enumerate(lines[start + 1 :], start=start + 2):
        if not line.strip():
            continue
        if len(rows) == MAX_ROWS:
            log.reject(number, "file", f"the table has more than {MAX_ROWS} rows")
        row = _row(next(csv.reader([line], delimiter=delimiter)), places, columns, log, number)
        rows.append(row)
        if log.is_full:
            break
    log.raise_if_any()
    if not rows:
        log.reject(start + 1, "file", "there is no row below the heading")
    return tuple(row for row in rows if row is not None)


def _places(heading: str, delimiter: str, columns: Sequence[str], log: ProblemLog, number: int) -> dict[str, int]:
    found = [name.strip().lower() for name in next(csv.reader([heading], delimiter=delimiter))]
    for name in (*columns, VALUE):
        if found.count(name) != 1:
            problem = "is missing in the heading" if name not in found else "appears twice in the heading"
            log.add(number, name, f"the column {quoted(name)} {problem}; write {', '.join((*columns, VALUE))}")
    log.raise_if_any()
    return {name: found.index(name) for name in (*columns, VALUE)}


def _row(
    cells: list[str], places: dict[str, int], columns: Sequence[str], log: ProblemLog, number: int
) -> StudyRow | None:
    if len(cells) <= max(places.values()):
        log.add(number, "file", f"the line has {len(cells)} columns; the heading asks for {max(places.values()) + 1}")
        return None
    names = tuple(cells[places[name]].strip() for name in columns)
    for column, name in zip(columns, names, strict=True):
        if not name or len(name) > MAX_NAME:
            log.add(number, column, f"write a name of 1 to {MAX_NAME} characters")
    value = _value(cells[places[VALUE]].strip())
    if value is None:
        log.add(number, VALUE, _value_problem(cells[places[VALUE]].strip()[:MAX_NAME]))
        return None
    return StudyRow(names, value, number)


def _value_problem(text: str) -> str:
    if re.fullmatch(r"[+-]?[0-9]+,[0-9]+", text):
        return f"{quoted(text)} has a decimal comma; a decimal point is expected, such as {text.replace(',', '.')}"
    return f"{quoted(text)} is not a number between ±{MAX_VALUE:g}; write one such as 5.08"


def _value(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and abs(value) <= MAX_VALUE and "_" not in text else None
