"""Marks on a picture as a page sends them: checked, and made what the angles follow from."""

from __future__ import annotations

from collections.abc import Mapping

from core.domain.quoting import quoted
from fittings.domain.bounds import number_within
from fittings.domain.fitting.angles import KINDS, POINT_MAX_PX, READINGS, Kind, Marks, Point, Reading


def marks_from_data(data: object) -> tuple[Marks, ...]:
    """Marks as a page sends them.

    Parameters
    ----------
    data : object
        A mapping from the measure to ``{"readings": [[[x, y], …], …], "mirrored": bool, "known_mm": number or null}``.

    Returns
    -------
    tuple of Marks
        One for each measure.

    Raises
    ------
    TypeError, ValueError
        When anything is missing, unknown, of the wrong kind or out of range; the message names it.

    Examples
    --------
    >>> marks_from_data({})
    ()
    """
    if not isinstance(data, Mapping):
        raise TypeError("marks must be a mapping from the measure to its readings")
    return tuple(_marks(name, item) for name, item in data.items())


def _marks(name: object, item: object) -> Marks:
    kind = KINDS.get(name) if isinstance(name, str) else None
    if kind is None:
        raise ValueError(f"marks must be of {', '.join(KINDS)}, got {quoted(str(name))}")
    if not isinstance(item, Mapping) or not isinstance(item.get("readings"), list):
        raise TypeError(f"{kind.name} must have readings")
    if len(item["readings"]) > READINGS:
        raise ValueError(f"{kind.name} must have {READINGS} readings, got {len(item['readings'])}")
    readings = tuple(_reading(kind, reading) for reading in item["readings"])
    known = item.get("known_mm")
    length = None if known is None else number_within("known_mm", known, 10.0, 1000.0)
    return Marks(kind.name, readings, item.get("mirrored") is True, length)


def _reading(kind: Kind, reading: object) -> Reading:
    if not isinstance(reading, list) or len(reading) != len(kind.marks):
        raise ValueError(f"a reading of {kind.name} must have {len(kind.marks)} marks")
    points = []
    for point in reading:
        if not isinstance(point, list) or len(point) != 2:
            raise ValueError(f"a mark of {kind.name} must be [x, y]")
        x, y = (number_within("a mark", part, -POINT_MAX_PX, POINT_MAX_PX) for part in point)
        points.append(Point(x, y))
    return tuple(points)
