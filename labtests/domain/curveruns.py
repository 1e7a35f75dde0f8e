"""The quickest way through a table: rows that stand together run by run, as a rig writes them.

A run is the rows of one test, repeat and branch without a gap. What is not plain in the least way is left to
`labtests.domain.curvetable`, which reads the same values more slowly or names what is wrong.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from core.units import FloatArray
from labtests.domain.decimals import read_decimals

TESTS = ("torsion", "compression")
BRANCHES = ("loading", "unloading")
PREFIX = re.compile(rb"(torsion|compression),([1-9][0-9]{0,2}),(loading|unloading),")
NUMBER_BYTES = b"0123456789+-.eE"
# Looking for the end of a run passes over the rest of the table: a table of very many runs is read elsewhere.
MAX_RUNS = 200


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """The rows of one test, repeat and branch, in the units of the file; `first_row` counts from 0."""

    test: str
    repeat: int
    branch: str
    first_row: int
    position: FloatArray
    load: FloatArray


def read_runs(body: str) -> list[Run] | None:
    """Read the rows of a table that stands in runs.

    Parameters
    ----------
    body : str
        The lines below the table's header.

    Returns
    -------
    list of Run, or None
        Torsion before compression, repeat, loading before unloading; None as soon as anything is not plain: a space, a
        blank line, a word or number that is not written as usual, a run in two parts.

    Examples
    --------
    >>> runs = read_runs("compression,1,loading,0,5\\ntorsion,1,loading,0,0.1\\ntorsion,1,loading,1,0.3\\n")
    >>> [(run.test, run.first_row, run.load.tolist()) for run in runs]
    [('torsion', 1, [0.1, 0.3]), ('compression', 0, [5.0])]
    """
    data = body.rstrip("\n").encode()
    cuts: list[_Cut] = []
    start = 0
    while start < len(data):
        cut = _cut_run(data, start)
        if cut is None or len(cuts) == MAX_RUNS:
            return None
        cuts.append(cut)
        start = cut.end
    values = _read_numbers(b",".join(cut.numbers for cut in cuts))
    if values is None or len({cut.key for cut in cuts}) < len(cuts):
        return None
    firsts = np.cumsum([0, *(cut.n for cut in cuts)])
    points = values.reshape(-1, 2)
    runs = [_run(cut, int(first), points) for cut, first in zip(cuts, firsts, strict=False)]
    return sorted(runs, key=lambda run: (TESTS.index(run.test), run.repeat, BRANCHES.index(run.branch)))


@dataclass(frozen=True, slots=True)
class _Cut:
    """A run cut out: whose it is, how many rows, their numbers with commas between, where the next one begins."""

    key: tuple[bytes, bytes, bytes]
    n: int
    numbers: bytes
    end: int


def _cut_run(data: bytes, start: int) -> _Cut | None:
    match = PREFIX.match(data, start)
    if match is None:
        return None
    again = b"\n" + match[0]
    last = data.rfind(again, start)
    end = data.find(b"\n", start if last < 0 else last + 1)
    end = len(data) if end < 0 else end
    numbers = data[match.end() : end].replace(again, b";")
    n = numbers.count(b";") + 1
    # Two numbers a row and no other character: another row in between would leave its line end here.
    if numbers.translate(None, NUMBER_BYTES) != b",;" * (n - 1) + b",":
        return None
    return _Cut((match[1], match[2], match[3]), n, numbers.replace(b";", b","), end + 1)


def _read_numbers(text: bytes) -> FloatArray | None:
    values = read_decimals(text)
    if values is not None:
        return values
    try:
        values = np.array([*map(float, text.split(b","))])
    except ValueError:
        return None
    return values if np.isfinite(values).all() else None


def _run(cut: _Cut, first: int, points: FloatArray) -> Run:
    test, repeat, branch = cut.key
    position, load = np.ascontiguousarray(points[first : first + cut.n].T)
    return Run(test.decode(), int(repeat), branch.decode(), first, position, load)
