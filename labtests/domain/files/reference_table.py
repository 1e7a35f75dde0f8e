"""Reading a table of reference shoes and the scores they are to have."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass

from core.domain.figures import figure
from core.domain.quoting import quoted

SHOE = "shoe"
TARGETS = ("stability", "midfoot", "rearfoot", "cushioning")
MAX_ROWS = 500
MAX_PROBLEMS = 20
LIMIT = 1000.0


@dataclass(frozen=True, slots=True)
class Target:
    """The scores a shoe is to have; None where left open."""

    shoe: str
    stability: float | None = None
    midfoot: float | None = None
    rearfoot: float | None = None
    cushioning: float | None = None


@dataclass(frozen=True, slots=True)
class TargetTable:
    """What was read; `problems` say line by line what to correct, and then there are no targets."""

    targets: tuple[Target, ...]
    problems: tuple[str, ...]


def read_targets(text: str) -> TargetTable:
    """Read targets as CSV.

    Parameters
    ----------
    text : str
        A header line with `shoe` and any of `stability`, `midfoot`, `rearfoot`, `cushioning`, then one line a shoe;
        separated by commas, semicolons or tabs. An empty cell leaves a score open.

    Returns
    -------
    TargetTable

    Examples
    --------
    >>> read_targets("shoe,midfoot\\nfen-1,40").targets
    (Target(shoe='fen-1', stability=None, midfoot=40.0, rearfoot=None, cushioning=None),)
    >>> read_targets("shoe,midfoot\\nfen-1,forty").problems
    ('line 2, midfoot: write a score from −1000 to 1000 or leave it empty, got “forty”',)
    """
    lines = text.lstrip("\ufeff").splitlines()
    if not any(line.strip() for line in lines):
        return TargetTable((), ("line 1: write a header line such as shoe,stability,midfoot and one line per shoe",))
    separator = next((mark for mark in ("\t", ";") if mark in lines[0]), ",")
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=separator))
    header = [name.strip().lower() for name in rows[0]]
    problems = _header_problems(header)
    if len(rows) - 1 > MAX_ROWS:
        problems.append(f"line {MAX_ROWS + 2}: at most {MAX_ROWS} shoes, got {len(rows) - 1}")
    if problems:
        return TargetTable((), tuple(problems))
    targets: dict[str, Target] = {}
    for number, row in enumerate(rows[1:], start=2):
        if any(cell.strip() for cell in row):
            _read_row(number, header, [cell.strip() for cell in row], targets, problems)
    if not targets and not problems:
        problems.append("line 2: write one line per shoe below the header")
    return TargetTable(() if problems else tuple(targets.values()), tuple(problems[:MAX_PROBLEMS]))


def _header_problems(header: list[str]) -> list[str]:
    problems = []
    known = {SHOE, *TARGETS}
    if SHOE not in header:
        problems.append(f"line 1: there must be a column {quoted(SHOE)}")
    if not known & {*TARGETS} & {*header}:
        problems.append(f"line 1: there must be a column of scores, any of {', '.join(TARGETS)}")
    problems += [f"line 1: {quoted(name)} is not a column of this table" for name in header if name not in known]
    problems += [f"line 1: the column {quoted(name)} appears twice" for name in known if header.count(name) > 1]
    return problems


def _read_row(number: int, header: list[str], row: list[str], targets: dict[str, Target], problems: list[str]) -> None:
    if len(row) != len(header):
        problems.append(f"line {number}: {len(header)} cells wanted, got {len(row)}")
        return
    cells = dict(zip(header, row, strict=True))
    shoe = cells.pop(SHOE)
    if not shoe:
        problems.append(f"line {number}, {SHOE}: write the short name of a shoe")
    if shoe in targets:
        problems.append(f"line {number}, {SHOE}: {shoe} appears twice")
    scores = {name: _score(cell) for name, cell in cells.items()}
    wrong = [name for name, value in scores.items() if value is not None and not abs(value) <= LIMIT]
    problems += [
        f"line {number}, {name}: write a score from {figure(-LIMIT)} to {figure(LIMIT)} or leave it empty, "
        f"got {quoted(cells[name])}"
        for name in wrong
    ]
    targets[shoe] = Target(shoe, **scores)


def _score(cell: str) -> float | None:
    if not cell:
        return None
    try:
        return float(cell)
    except ValueError:
        return math.nan


def targets_text(targets: Sequence[Target]) -> str:
    """Write targets as the table that `read_targets` reads.

    Examples
    --------
    >>> targets_text([Target("fen-1", midfoot=40.0)])
    'shoe,stability,midfoot,rearfoot,cushioning\\nfen-1,,40.0,,\\n'
    """
    lines = [",".join((SHOE, *TARGETS))]
    for target in targets:
        scores = (getattr(target, name) for name in TARGETS)
        lines.append(",".join((target.shoe, *("" if score is None else repr(score) for score in scores))))
    return "\n".join(lines) + "\n"
