"""Torque at 15° from curves of torsion."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.figures import figure
from core.domain.units import FloatArray
from labtests.domain.curves.curve_set import CurveSet
from labtests.domain.curves.curves import STANDARD, CurveShortfall, Points, Target, raise_shortfall
from labtests.domain.curves.local_fit import Row, loads_at
from labtests.domain.curves.spikes import Spike, without_spikes

OTHER_WAY_DEG = 1.0
"""Up to this angle the other direction is play about zero; beyond it, it was meant and must reach the target too."""
# The stretch on either side of a mark that counts for a reading, as a share of the target angle: there the curve of a
# shoe is a parabola, but for its noise.
ANGLE_STRETCH = 2.0 / 15.0


@dataclass(frozen=True, slots=True)
class TorsionReading:
    """One repeat of torsion. `directions` is 2 where both were twisted and averaged.

    `by_direction_nm` has the torque of each, > 0 where it rises with the angle. `u_nm` is the standard uncertainty of
    reading the torque from the curve, `slope_nm_deg` its rise there (N·m/°).
    """

    torque_15_nm: float
    zero_offset_nm: float
    directions: int
    by_direction_nm: tuple[float, ...] = ()
    u_nm: float = 0.0
    slope_nm_deg: float = 0.0
    spikes: tuple[Spike, ...] = ()


def read_torsion(angle_deg: FloatArray, torque_nm: FloatArray, *, target: Target = STANDARD) -> TorsionReading:
    """Read the torque at the target angle (15°) from the loading branch, less the torque at 0°.

    Parameters
    ----------
    angle_deg : array of float, shape (n,)
        Finite, n ≥ 2, any order. Negative angles are the other direction; if both reach 15° they are averaged.
    torque_nm : array of float, shape (n,)
        Finite; the sign follows the angle.
    target : Target
        Of the protocol; the standard one is read at 15°.

    Returns
    -------
    TorsionReading
        N·m.

    Raises
    ------
    CurveShortfall
        The curve does not span 0° to 15° in either direction, or spans it in one and stops short in the other.

    Notes
    -----
    Spikes are left out. Points are put in the order of their angle and those at the same angle are averaged, then read
    by `loads_at`: a clean curve is interpolated linearly, a noisy one fitted within 2° of the mark. The zero offset is
    the torque at 0° on the same curve, so a constant added to every torque changes nothing.

    References
    ----------
    .. [1] Zero offset and reading at a fixed angle: common practice, no source.

    Examples
    --------
    >>> import numpy as np
    >>> read_torsion(np.array([0.0, 10.0, 20.0]), np.array([0.5, 2.5, 4.5])).torque_15_nm
    3.0
    """
    (reading,) = read_torsions([(angle_deg, torque_nm)], target=target)
    return raise_shortfall(reading)


def read_torsions(curves: Sequence[Points], *, target: Target = STANDARD) -> list[TorsionReading | CurveShortfall]:
    """Read many curves of torsion at once, each as `read_torsion` does; a shortfall is in its curve's place.

    One by one takes four times as long: the arrays around a mark are so short that the calls themselves cost most.
    """
    twists = [_twist(points, spikes, target) for points, spikes in without_spikes(curves)]
    read = iter(_torsion_readings([twist for twist in twists if isinstance(twist, _Twist)], target))
    return [next(read) if isinstance(twist, _Twist) else twist for twist in twists]


@dataclass(frozen=True, slots=True, eq=False)
class _Twist:
    """A curve of torsion by its angles, without spikes, and in which directions (1, -1) it reaches the target."""

    points: Points
    directions: list[float]
    spikes: tuple[Spike, ...]


def _twist(recorded: Points, spikes: tuple[Spike, ...], target: Target) -> _Twist | CurveShortfall:
    points = _ordered_means(*recorded)
    low, high = float(points[0][0]), float(points[0][-1])
    if low > 0.0 or high < 0.0:
        return CurveShortfall(
            f"torsion begins at {figure(low if low > 0.0 else high)}°, the torque at 0° is needed as zero",
            code="torsion_zero",
        )
    reached = [way for way, end in ((1.0, high), (-1.0, -low)) if end >= target.angle_deg]
    shortfall = _short_torsion(high=high, low=low, reached=len(reached), target_deg=target.angle_deg)
    return shortfall or _Twist(points, reached, spikes)


def _torsion_readings(twists: Sequence[_Twist], target: Target) -> list[TorsionReading]:
    if not twists:
        return []
    # A curve comes once for its zero and once for each direction.
    marks = [(twist.points, way * target.angle_deg) for twist in twists for way in (0.0, *twist.directions)]
    points, at = zip(*marks, strict=True)
    read = loads_at(CurveSet.of(points), np.array(at), half_width=ANGLE_STRETCH * target.angle_deg)
    rows = iter(read.rows())
    return [_torsion_reading(twist, next(rows), [next(rows) for _ in twist.directions]) for twist in twists]


def _torsion_reading(twist: _Twist, zero: Row, twisted: list[Row]) -> TorsionReading:
    count, (zero_nm, u_zero, _) = len(twisted), zero
    torques = tuple(way * (value - zero_nm) for way, (value, _, _) in zip(twist.directions, twisted, strict=True))
    # Of two directions the mean is half of the difference of their torques: the zero drops out.
    u_zero = u_zero if count == 1 else 0.0
    return TorsionReading(
        torque_15_nm=sum(torques) / count,
        zero_offset_nm=zero_nm,
        directions=count,
        by_direction_nm=torques,
        u_nm=math.hypot(u_zero, *(u / count for _, u, _ in twisted)),
        slope_nm_deg=sum(slope for _, _, slope in twisted) / count,
        spikes=twist.spikes,
    )


def _short_torsion(*, high: float, low: float, reached: int, target_deg: float) -> CurveShortfall | None:
    short = [end for end in (high, low) if OTHER_WAY_DEG < abs(end) < target_deg]
    if reached and not short:
        return None
    furthest = short[0] if short else max(high, low, key=abs)
    return CurveShortfall(
        f"torsion stops at {figure(furthest)}°, {figure(target_deg)}° is needed and nothing is extrapolated",
        code="torsion_short",
    )


def _ordered_means(position: FloatArray, load: FloatArray) -> tuple[FloatArray, FloatArray]:
    if (position[1:] > position[:-1]).all():
        return position, load
    unique, inverse, counts = np.unique(position, return_inverse=True, return_counts=True)
    return unique, np.bincount(inverse, weights=load) / counts
