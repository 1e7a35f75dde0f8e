"""Angles and heights from marks that somebody puts on a picture.

A picture has its points in pixels, x to the right and y downward. Only the marks come here, never the picture. Each
measure is taken twice, so that it carries its own repeat error.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

from fittings.domain.bounds import LIMITS, number_within

READINGS = 2
"""A measure is taken so many times."""

LINE_LEAST_PX = 20.0
"""Marks of a line closer than this give no direction that can be trusted; common practice, no source."""

POINT_MAX_PX = 20_000.0
PLACES = 1
"""Digits after the point: what is measured on a picture is not better than that."""


@dataclass(frozen=True, slots=True)
class Point:
    """A mark in pixels of the picture."""

    x: float
    y: float


Reading = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class Kind:
    """One measure: its unit, the observation that it fills in, and the marks that a reading of it has, in order."""

    name: str
    label: str
    unit: str
    field: str
    view: str
    marks: tuple[str, ...]
    needs_length: bool = False


KINDS = MappingProxyType(
    {
        kind.name: kind
        for kind in (
            Kind(
                "rearfoot_eversion",
                "Rearfoot eversion",
                "°",
                "rearfoot_eversion_deg",
                "from behind",
                ("upper end of the leg line", "lower end of the leg line", "top of the heel line", "foot of the heel"),
            ),
            Kind(
                "ankle_dorsiflexion",
                "Ankle angle",
                "°",
                "",
                "from the side",
                ("shank, below the knee", "shank, at the ankle", "sole at the heel", "sole at the ball of the foot"),
            ),
            Kind(
                "navicular_drop",
                "Navicular drop",
                "mm",
                "navicular_drop_mm",
                "from the inner side, sitting and then standing",
                (
                    "sitting: floor below the navicular",
                    "sitting: navicular",
                    "sitting: one end of the known length",
                    "sitting: its other end",
                    "standing: floor below the navicular",
                    "standing: navicular",
                    "standing: one end of the known length",
                    "standing: its other end",
                ),
                needs_length=True,
            ),
        )
    }
)
"""The measures by name."""


@dataclass(frozen=True, slots=True)
class Marks:
    """The marks of one measure of one foot; `known_mm` is the length in the picture that gives the scale."""

    kind: str
    readings: tuple[Reading, ...]
    mirrored: bool = False
    known_mm: float | None = None


@dataclass(frozen=True, slots=True)
class MeasuredTwice:
    """The mean of two readings, and how far they are apart, in the unit of the measure."""

    kind: str
    mean: float
    apart: float


def rearfoot_eversion_deg(reading: Reading, foot: str, *, mirrored: bool = False) -> float:
    """Angle of the heel against the leg, seen from behind.

    Parameters
    ----------
    reading : tuple of Point, length 4
        Upper and lower end of the leg line, top and bottom of the heel line, in pixels.
    foot : {"left", "right"}
        Which foot it is.
    mirrored : bool
        Whether left and right are exchanged in the picture, as cameras that face the user often do.

    Returns
    -------
    float
        Degrees; positive where the foot of the heel points away from the other foot (eversion).

    Raises
    ------
    ValueError
        When there are not four marks, two marks of a line are too close, or the foot is neither.

    Notes
    -----
    A turn of the tablet does not matter, for only the angle between the two lines counts.

    References
    ----------
    .. [1] Two lines, one along the lower leg and one along the heel bone, are the usual marks of rearfoot motion;
       common practice, no source.

    Examples
    --------
    >>> leg = Point(100, 0), Point(100, 200)
    >>> heel = Point(100, 210), Point(100 + 100 * math.tan(math.radians(8)), 310)
    >>> round(rearfoot_eversion_deg((*leg, *heel), "right"), 6)
    8.0
    """
    if foot not in ("left", "right"):
        raise ValueError(f"foot must be left or right, got {foot!r}")
    leg_top, leg_end, heel_top, heel_end = _of_length(reading, 4)
    turned = _from_upright(heel_top, heel_end) - _from_upright(leg_top, leg_end)
    outward = turned if (foot == "right") != mirrored else -turned
    return (outward + 180.0) % 360.0 - 180.0


def ankle_dorsiflexion_deg(reading: Reading) -> float:
    """Angle of the shank against the sole, seen from the side.

    Parameters
    ----------
    reading : tuple of Point, length 4
        Shank below the knee and at the ankle, sole at the heel and at the ball, in pixels.

    Returns
    -------
    float
        Degrees: 0 where they are square to each other, positive where the shank leans toward the toes.

    Raises
    ------
    ValueError
        When there are not four marks, or two marks of a line are too close.

    Notes
    -----
    Neither the turn of the tablet nor mirroring matters.

    Examples
    --------
    >>> ankle_dorsiflexion_deg((Point(100, 0), Point(100, 200), Point(80, 220), Point(180, 220)))
    0.0
    """
    top, ankle, heel, ball = _of_length(reading, 4)
    along, across = _line(ankle, top), _line(heel, ball)
    dot = along[0] * across[0] + along[1] * across[1]
    turn = along[0] * across[1] - along[1] * across[0]
    return 90.0 - math.degrees(math.atan2(abs(turn), dot))


def navicular_drop_mm(reading: Reading, known_mm: float) -> float:
    """How far the navicular comes down from sitting to standing.

    Parameters
    ----------
    reading : tuple of Point, length 8
        For sitting and then for standing: the floor below the navicular, the navicular, and both ends of the known
        length, in pixels.
    known_mm : float
        The known length, 10 to 1000 mm, at the same distance from the camera as the foot.

    Returns
    -------
    float
        mm; positive where it comes down.

    Raises
    ------
    TypeError, ValueError
        When there are not eight marks, the known length is out of range or its ends are too close.

    References
    ----------
    .. [1] Brody D.M., Orthop Clin North Am 13:541 (1982), the drop from sitting to standing; from memory.

    Examples
    --------
    >>> sit = Point(0, 200), Point(0, 100), Point(0, 0), Point(0, 100)
    >>> stand = Point(0, 200), Point(0, 120), Point(0, 0), Point(0, 100)
    >>> navicular_drop_mm((*sit, *stand), 50.0)
    10.0
    """
    length = number_within("known_mm", known_mm, 10.0, 1000.0)
    points = _of_length(reading, 8)
    heights = []
    for floor, navicular, one, other in (points[:4], points[4:]):
        heights.append(
            math.dist((floor.x, floor.y), (navicular.x, navicular.y)) * length / math.hypot(*_line(one, other))
        )
    return heights[0] - heights[1]


def measured_twice(marks: Marks, foot: str) -> MeasuredTwice:
    """Mean and distance of the two readings of one measure.

    Parameters
    ----------
    marks : Marks
        With exactly two readings.
    foot : {"left", "right"}
        Which foot it is.

    Returns
    -------
    MeasuredTwice
        In degrees or mm.

    Raises
    ------
    TypeError, ValueError
        When a reading is missing or has wrong marks, or the mean is out of the range of the observation.

    Examples
    --------
    >>> one = (Point(100, 0), Point(100, 200), Point(100, 210), Point(100, 310))
    >>> measured_twice(Marks("rearfoot_eversion", (one, one)), "left")
    MeasuredTwice(kind='rearfoot_eversion', mean=0.0, apart=0.0)
    """
    if len(marks.readings) != READINGS:
        raise ValueError(f"The measure is taken twice: put the marks {READINGS} times, got {len(marks.readings)}.")
    first, second = (_value(marks, reading, foot) for reading in marks.readings)
    return mean_of_readings(marks.kind, (first, second))


def mean_of_readings(kind: str, readings: tuple[float, float]) -> MeasuredTwice:
    """Mean and distance of two readings that are numbers already.

    Parameters
    ----------
    kind : str
        Of `KINDS`.
    readings : (float, float)
        In degrees or mm.

    Returns
    -------
    MeasuredTwice
        In the same unit.

    Raises
    ------
    TypeError, ValueError
        When the mean is out of the range of the observation or no number.

    Examples
    --------
    >>> mean_of_readings("rearfoot_eversion", (6.0, 7.0))
    MeasuredTwice(kind='rearfoot_eversion', mean=6.5, apart=1.0)
    """
    limits = "navicular_drop_mm" if KINDS[kind].needs_length else "degrees"
    mean = number_within(KINDS[kind].label, math.fsum(readings) / READINGS, *LIMITS[limits])
    return MeasuredTwice(kind, mean + 0.0, abs(readings[0] - readings[1]))


def _value(marks: Marks, reading: Reading, foot: str) -> float:
    if marks.kind == "rearfoot_eversion":
        return rearfoot_eversion_deg(reading, foot, mirrored=marks.mirrored)
    if marks.kind == "ankle_dorsiflexion":
        return ankle_dorsiflexion_deg(reading)
    if marks.known_mm is None:
        raise ValueError("Give the known length in mm; without it there is no scale.")
    return navicular_drop_mm(reading, marks.known_mm)


def repeat_error(apart: Sequence[float]) -> float | None:
    """Standard deviation of a single reading, from pairs of readings of one thing by one person.

    Parameters
    ----------
    apart : sequence of float
        How far the two readings of each pair are apart, any one unit.

    Returns
    -------
    float or None
        √(Σd² / 2n) in the same unit; None without a pair.

    Raises
    ------
    Nothing.

    References
    ----------
    .. [1] Dahlberg G., Statistical Methods for Medical and Biological Students (1940); from memory.

    Examples
    --------
    >>> repeat_error([2.0, 2.0]), repeat_error([])
    (1.4142135623730951, None)
    """
    if not apart:
        return None
    return math.sqrt(math.fsum(d * d for d in apart) / (2 * len(apart)))


def _of_length(reading: Reading, count: int) -> Reading:
    if len(reading) != count:
        raise ValueError(f"a reading must have {count} marks, got {len(reading)}")
    return reading


def _line(start: Point, end: Point) -> tuple[float, float]:
    across, down = end.x - start.x, end.y - start.y
    if math.hypot(across, down) < LINE_LEAST_PX:
        raise ValueError("Two marks of a line are too close to each other. Put them further apart.")
    return across, down


def _from_upright(top: Point, end: Point) -> float:
    """Degrees by which a line that points down leans to the right."""
    across, down = _line(top, end)
    return math.degrees(math.atan2(across, down))
