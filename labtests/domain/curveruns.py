"""The quickest way through a table: rows that stand together run by run, as a rig writes them.

A run is the rows of one test, repeat and branch without a gap. What is not plain in the least way is left to
`labtests.domain.curvetable`, which reads the same values more slowly or names what is wrong.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from core.units import FloatArray

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

    @property
    def order(self) -> tuple[int, int, int]:
        """Torsion before compression, repeat, loading before unloading."""
        return TESTS.index(self.test), self.repeat, BRANCHES.index(self.branch)


def read_runs(body: str) -> list[Run] | None:
    """Read the rows of a table that stands in runs.

    Parameters
    ----------
    body : str
        The lines below the table's header.

    Returns
    -------
    list of Run, or None
        In the order of `Run.order`; None as soon as anything is not plain: a space, a blank line, a word or number that
        is not written as usual, a run in two parts.

    Examples
    --------
    >>> runs = read_runs("compression,1,loading,0,5\\ntorsion,1,loading,0,0.1\\ntorsion,1,loading,1,0.3\\n")
    >>> [(run.test, run.first_row, run.load.tolist()) for run in runs]
    [('torsion', 1, [0.1, 0.3]), ('compression', 0, [5.0])]
    """
    data = body.rstrip("\n").encode()
    runs: dict[tuple[int, int, int], Run] = {}
    start = row = 0
    while start < len(data):
        found = _read_run(data, start, row)
        if found is None or len(runs) == MAX_RUNS:
            return None
        run, start = found
        if run.order in runs:
            return None
        runs[run.order] = run
        row += run.load.size
    return [runs[order] for order in sorted(runs)]


def _read_run(data: bytes, start: int, row: int) -> tuple[Run, int] | None:
    """Read the run that begins at `start`; with it where the next one begins."""
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
    try:
        values = np.array([*map(float, numbers.replace(b";", b",").split(b","))])
    except ValueError:
        return None
    if not np.isfinite(values).all():
        return None
    position, load = np.ascontiguousarray(values.reshape(n, 2).T)
    return Run(match[1].decode(), int(match[2]), match[3].decode(), row, position, load), end + 1
