"""Outlines that are written as SVG paths, as points for pictures of dots."""

from __future__ import annotations

import re
from collections.abc import Iterator

Point = tuple[float, float]
STEPS = 16
_TOKENS = re.compile(r"([MLHCZ])|(-?\d+(?:\.\d+)?)")


def points_of(path: str) -> list[Point]:
    """Return the points along a path of the commands M, L, H, C and Z, absolute ones; curves in `STEPS` pieces.

    Examples
    --------
    >>> points_of("M 0 0 L 4 0 H 8 Z")
    [(0.0, 0.0), (4.0, 0.0), (8.0, 0.0)]
    """
    found: list[Point] = []
    for command, numbers in _commands(path):
        if command == "H":
            found.append((numbers[0], found[-1][1]))
        elif command == "C":
            for place in range(0, len(numbers), 6):
                found.extend(_curve(found[-1], numbers[place : place + 6]))
        else:
            found.extend(zip(numbers[::2], numbers[1::2], strict=True))
    return found


def _commands(path: str) -> Iterator[tuple[str, list[float]]]:
    command, numbers = "", list[float]()
    for letter, number in _TOKENS.findall(path):
        if number:
            numbers.append(float(number))
            continue
        if command:
            yield command, numbers
        command, numbers = letter, []
    yield command, numbers


def _curve(start: Point, numbers: list[float]) -> Iterator[Point]:
    (x0, y0), (x1, y1, x2, y2, x3, y3) = start, numbers
    for step in range(1, STEPS + 1):
        t = step / STEPS
        a, b, c, d = (1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3
        yield a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3
