"""The quickest way through a table: rows that are together run by run, as a rig writes them.

A run is the rows of one test, repeat and branch without a gap. What is not plain in the least way is left to
`labtests.domain.files.curvetable`, which reads the same values more slowly or names what is wrong.
"""

from __future__ import annotations

import itertools
import re
from typing import Any

import numpy as np
import numpy.typing as npt

from core.domain.units import FloatArray
from labtests.domain.files.decimals import read_decimals
from labtests.domain.files.fields import MAX_REPEAT
from labtests.domain.files.recorded_curve import RecordedCurve

TESTS = ("torsion", "compression")
BRANCHES = ("loading", "unloading")
PREFIX = re.compile(rb"(torsion|compression),([1-9][0-9]{0,2}),(loading|unloading),")
NUMBER_BYTES = b"0123456789+-.eE"
COMMA, LINE_END = b",\n"
# What a row's five values end in.
ROW_MARKS = np.frombuffer(b",,,,\n", np.uint8)
# A run has a name of its own: test, repeat and branch.
MAX_RUNS = len(TESTS) * MAX_REPEAT * len(BRANCHES)

Marks = npt.NDArray[np.intp]
Key = tuple[bytes, bytes, bytes]


def read_runs(body: str, *, first_line: int = 1) -> list[RecordedCurve] | None:
    """Read the rows of a table that is in runs.

    Parameters
    ----------
    body : str
        The lines below the table's header.
    first_line : int
        Where the first of them is in the file, counted from 1.

    Returns
    -------
    list of RecordedCurve, or None
        Torsion before compression, repeat, loading before unloading; None as soon as anything is not plain: a space, a
        blank line, a word or number that is not written as usual, a run in two parts.

    Examples
    --------
    >>> runs = read_runs("compression,1,loading,0,5\\ntorsion,1,loading,0,0.1\\ntorsion,1,loading,1,0.3\\n")
    >>> [(run.test, run.lines[0], run.load.tolist()) for run in runs]
    [('torsion', 2, [0.1, 0.3]), ('compression', 1, [5.0])]
    """
    data = body.rstrip("\n").encode() + b"\n"
    raw = np.frombuffer(data, np.uint8)
    marks = np.flatnonzero((raw == COMMA) | (raw == LINE_END))
    if marks.size % ROW_MARKS.size:
        return None
    rows = marks.reshape(-1, ROW_MARKS.size)
    if (raw[rows] != ROW_MARKS).any():
        return None
    starts = np.concatenate(([0], rows[:-1, -1] + 1))
    firsts = _first_rows(raw, starts, rows)
    keys = _keys(data, (starts, rows), firsts) if len(firsts) <= MAX_RUNS else None
    values = None if keys is None else _read_numbers(data, rows[:, 2:4].T.ravel() + 1, rows[:, 3:].T.ravel())
    if keys is None or values is None:
        return None
    position, load = values.reshape(2, -1)
    runs = (
        _curve(key, first + first_line, position[first:end], load[first:end])
        for key, (first, end) in zip(keys, itertools.pairwise([*firsts, load.size]), strict=True)
    )
    return sorted(runs, key=lambda run: (TESTS.index(run.test), run.repeat, BRANCHES.index(run.branch)))


def _first_rows(raw: npt.NDArray[Any], starts: Marks, rows: Marks) -> list[int]:
    """Where runs begin, recognised by what differs between their names: a length or one of three characters."""
    marks = (rows[:, 2] - starts, raw[starts], raw[rows[:, 0] + 1], raw[rows[:, 1] - 1], raw[rows[:, 1] + 1])
    differs = np.logical_or.reduce([column[1:] != column[:-1] for column in marks])
    return [0, *(np.flatnonzero(differs) + 1).tolist()]


def _keys(data: bytes, rows: tuple[Marks, Marks], firsts: list[int]) -> list[Key] | None:
    """The names of runs; None where one is not plain, has a row of another name among its own, or comes twice."""
    starts, marks = rows
    keys: list[Key] = []
    for first, end in itertools.pairwise([*firsts, len(starts)]):
        match = PREFIX.fullmatch(data, starts[first], marks[first, 2] + 1)
        if match is None or data.count(b"\n" + match[0], starts[first], marks[end - 1, -1]) != end - first - 1:
            return None
        keys.append((match[1], match[2], match[3]))
    return keys if len(set(keys)) == len(keys) else None


def _read_numbers(data: bytes, starts: Marks, ends: Marks) -> FloatArray | None:
    values = read_decimals(data, starts, ends)
    if values is not None:
        return values
    written = [data[start:end] for start, end in zip(starts.tolist(), ends.tolist(), strict=True)]
    if b"".join(written).translate(None, NUMBER_BYTES):
        return None
    try:
        values = np.array([*map(float, written)])
    except ValueError:
        return None
    return values if np.isfinite(values).all() else None


def _curve(key: Key, first_line: int, position: FloatArray, load: FloatArray) -> RecordedCurve:
    test, repeat, branch = key
    lines = range(first_line, first_line + load.size)
    return RecordedCurve(test.decode(), int(repeat), branch.decode(), position, load, lines)
