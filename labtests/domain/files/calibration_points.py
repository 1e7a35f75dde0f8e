"""Reading the points of a certificate as somebody types or pastes them: one line a point."""

from __future__ import annotations

import re

from labtests.domain.conditions.calibrations import Point
from labtests.domain.files.fields import read_number
from labtests.domain.files.problems import FieldError

MAX_POINTS = 100
SEPARATOR = re.compile(r"\s*[;,\t]\s*|\s+")
COLUMNS = ("reference", "as found", "as left")


def read_points(text: str) -> tuple[tuple[Point, ...], tuple[str, ...]]:
    """Read points of a calibration.

    Parameters
    ----------
    text : str
        One line a point: the value of the standard, what the rig showed as found and, where it was adjusted, as left;
        separated by semicolons, commas, tabs or spaces. Decimal points.

    Returns
    -------
    tuple of Point, tuple of str
        The points in the order given; and what is wrong, by line and column, where there are none then.

    Examples
    --------
    >>> read_points("0; 0.1\\n100; 100.4; 100.0")[0][1]
    Point(reference=100.0, found=100.4, left=100.0)
    >>> read_points("0; zero")[1]
    ('line 1, as found: “zero” is not a number; write digits with a decimal point, such as 6.82',)
    """
    problems: list[str] = []
    points: list[Point] = []
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            cells = SEPARATOR.split(line.strip().rstrip(";,"))
            values = _values(cells, number, problems)
            if values is not None:
                points.append(Point(*values))
    if len(points) > MAX_POINTS:
        problems.append(f"line {MAX_POINTS + 1}: at most {MAX_POINTS} points, got {len(points)}")
    return (() if problems else tuple(points)), tuple(problems)


def _values(cells: list[str], line: int, problems: list[str]) -> list[float] | None:
    if not 2 <= len(cells) <= len(COLUMNS):
        problems.append(
            f"line {line}: write the reference, as found and, where adjusted, as left; got {len(cells)} values"
        )
        return None
    values = []
    for cell, column in zip(cells, COLUMNS, strict=False):
        try:
            values.append(read_number(cell))
        except FieldError as problem:
            problems.append(f"line {line}, {column}: {problem}")
    return values if len(values) == len(cells) else None
