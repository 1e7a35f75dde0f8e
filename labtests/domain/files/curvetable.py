"""The table of a bench file. Quick where the table is clean; walks the lines only to name what is wrong."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt

from core.domain.quoting import quoted
from labtests.domain.files import fields
from labtests.domain.files.curveruns import BRANCHES, TESTS, read_runs
from labtests.domain.files.fields import MAX_REPEAT
from labtests.domain.files.problems import FieldError, ProblemLog
from labtests.domain.files.recorded_curve import RecordedCurve

COLUMNS = ("test", "repeat", "branch", "position", "load")
# One character longer than the longest word, so that a longer word cannot be cut down to a known one.
ROW = np.dtype([("test", "S12"), ("repeat", "f8"), ("branch", "S10"), ("position", "f8"), ("load", "f8")])

Rows = npt.NDArray[Any]
# A row that no reader finds fault with; it may be written otherwise and still be sound.
PLAIN_ROW = re.compile(
    rf"(?:{'|'.join(TESTS)}),[1-9][0-9]{{0,2}},(?:{'|'.join(BRANCHES)})(?:,-?[0-9]{{1,9}}(?:\.[0-9]{{1,9}})?){{2}}"
)
Reader = Callable[[str], Any]
_Row = tuple[bytes, float, bytes, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """Every curve of a table, and which tests occur in it."""

    curves: tuple[RecordedCurve, ...]
    tests: frozenset[str]


def read_table(text: str, *, first_line: int, log: ProblemLog) -> Table:
    """Read the rows below the table's header into curves.

    Parameters
    ----------
    text : str
        The rows.
    first_line : int
        Where the first of them is in the file, counted from 1.
    log : ProblemLog
        Receives what is wrong; the table is empty then.

    Returns
    -------
    Table
        Curves in the order torsion before compression, repeat, loading before unloading.

    Examples
    --------
    >>> table = read_table("torsion,1,loading,0,0\\ntorsion,1,loading,1,2", first_line=1, log=ProblemLog("a.csv"))
    >>> table.curves[0].load.tolist()
    [0.0, 2.0]
    """
    if not text or text.isspace():
        log.add(first_line - 1, "test", "the table has no rows")
        return Table((), frozenset())
    curves = read_runs(text, first_line=first_line)
    if curves is not None:
        return _table(curves)
    body = text.rstrip().split("\n")
    rows = _read_quickly(body)
    if rows is not None:
        return _split(rows, range(first_line, first_line + len(body)))
    numbered = [(number, line) for number, line in enumerate(body, start=first_line) if line.strip()]
    if not _are_sound(numbered, log):
        return Table((), frozenset())
    return _split(_walk(numbered, log), [number for number, _ in numbered])


def _table(curves: Iterable[RecordedCurve]) -> Table:
    read = tuple(curves)
    return Table(read, frozenset(curve.test for curve in read))


def _read_quickly(body: list[str]) -> Rows | None:
    """Read a clean table, a row a line; None as soon as anything is not plain."""
    try:
        rows: Rows = np.loadtxt(body, dtype=ROW, delimiter=",", comments=None, ndmin=1)
    except (ValueError, OverflowError):
        return None
    repeat = rows["repeat"]
    is_plain = (
        rows.size == len(body)
        and _is_one_of(rows["test"], TESTS)
        and _is_one_of(rows["branch"], BRANCHES)
        and ((repeat == np.floor(repeat)) & (repeat >= 1) & (repeat <= MAX_REPEAT)).all()
        and np.isfinite(rows["position"]).all()
        and np.isfinite(rows["load"]).all()
    )
    return rows if is_plain else None


def _is_one_of(column: npt.NDArray[Any], words: tuple[str, ...]) -> bool:
    return bool(((column == words[0].encode()) | (column == words[1].encode())).all())


def _are_sound(numbered: Sequence[tuple[int, str]], log: ProblemLog) -> bool:
    """Name what is wrong with the rows; only those that are not plain are looked at closely."""
    before = len(log.problems)
    for number, line in numbered:
        if log.is_full:
            return False
        if not PLAIN_ROW.fullmatch(line):
            _walk_line(line, number, [], log)
    return len(log.problems) == before


def _walk(numbered: Sequence[tuple[int, str]], log: ProblemLog) -> Rows:
    """Read rows line by line that were found sound."""
    rows: list[_Row] = []
    for number, line in numbered:
        _walk_line(line, number, rows, log)
    return np.array(rows, dtype=ROW)


def _walk_line(line: str, number: int, rows: list[_Row], log: ProblemLog) -> None:
    if line.lstrip().startswith("#"):
        log.add(number, "test", "comment lines belong above the table, not in it")
        return
    cells = line.split(",")
    if len(cells) != len(COLUMNS):
        log.add(number, COLUMNS[min(len(cells), len(COLUMNS) - 1)], f"{len(COLUMNS)} values expected, got {len(cells)}")
        return
    before = len(log.problems)
    test = _cell(partial(_read_word, words=TESTS), cells, ("test", number), log)
    repeat = _cell(fields.read_repeat, cells, ("repeat", number), log)
    branch = _cell(partial(_read_word, words=BRANCHES), cells, ("branch", number), log)
    position = _cell(fields.read_number, cells, ("position", number), log)
    load = _cell(fields.read_number, cells, ("load", number), log)
    if len(log.problems) == before:
        rows.append((test.encode(), repeat, branch.encode(), position, load))


def _read_word(text: str, *, words: tuple[str, ...]) -> str:
    word = text.strip()
    if word not in words:
        raise FieldError(f"{quoted(word)} is not known; write {' or '.join(words)}")
    return word


def _cell(reader: Reader, cells: list[str], place: tuple[str, int], log: ProblemLog) -> Any:
    column, number = place
    try:
        return reader(cells[COLUMNS.index(column)])
    except FieldError as error:
        log.add(number, column, str(error))
        return None


def _split(rows: Rows, numbers: Sequence[int]) -> Table:
    is_compression = (rows["test"] == TESTS[1].encode()).astype(np.int64)
    is_unloading = (rows["branch"] == BRANCHES[1].encode()).astype(np.int64)
    key = (is_compression * (MAX_REPEAT + 1) + rows["repeat"].astype(np.int64)) * 2 + is_unloading
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.diff(key[order])) + 1
    curves = []
    for index in np.split(order, starts):
        first = index[0]
        curves.append(
            RecordedCurve(
                test=TESTS[is_compression[first]],
                repeat=int(rows["repeat"][first]),
                branch=BRANCHES[is_unloading[first]],
                lines=np.asarray(numbers)[index].tolist(),
                position=np.ascontiguousarray(rows["position"][index]),
                load=np.ascontiguousarray(rows["load"][index]),
            )
        )
    return _table(curves)
