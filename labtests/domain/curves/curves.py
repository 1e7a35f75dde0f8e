"""What is read from the raw curves: torque at 15°, deflection, work, energy return. Nothing is extrapolated."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.curves.local_fit import Crossing, crossing, load_at, rising
from labtests.domain.curves.spikes import find_spikes

TARGET_ANGLE_DEG = 15.0
TARGET_FORCE_N = 444.82216152605
"""100 lbf, exact; the protocol's 444.8 N written in full, so that inch-pound files end on the very same force."""
REACHED_FORCE_N = 444.8
"""Force that counts as reached; a curve ending between it and the target is read at its end (at most 0.005 % short)."""
CONTACT_FORCE_N = 5.0
OTHER_WAY_DEG = 1.0
"""Up to this angle the other direction is play about zero; beyond it, it was meant and must reach the target too."""
MJ_PER_J = 1000.0
# Stretches of a curve that count for a reading, as shares of the mark: of loads about the contact force and about the
# target force, and of angles on either side. On such a stretch the curve of a shoe is a parabola, but for its noise.
CONTACT_STRETCH = (0.2, 4.0)
END_STRETCH = (0.8, 1.2)
ANGLE_STRETCH = 2.0 / 15.0


@dataclass(frozen=True, slots=True)
class Target:
    """What curves are read at: the angle of torsion (°) and the force of compression (N), both > 0."""

    angle_deg: float = TARGET_ANGLE_DEG
    force_n: float = TARGET_FORCE_N

    @property
    def torque_name(self) -> str:
        return f"torque at {self.angle_deg:g}°"

    @property
    def reached_n(self) -> float:
        """Force that counts as reached, in the proportion of the standard protocol."""
        return self.force_n - (TARGET_FORCE_N - REACHED_FORCE_N) * (self.force_n / TARGET_FORCE_N)


STANDARD = Target()


class CurveShortfall(ValueError):
    """A curve that is sound but does not hold what has to be read from it: the test cannot be scored from it."""

    def __init__(self, message: str, *, code: str) -> None:
        super().__init__(message)
        self.code = code


@dataclass(frozen=True, slots=True)
class Spike:
    """A point that a reading left out: position (° or mm) and load (N·m or N) as recorded."""

    position: float
    load: float


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


@dataclass(frozen=True, slots=True)
class CompressionReading:
    """One repeat of heel compression; `energy_return` is None without a complete unloading branch.

    `contact_u_mm` and `end_u_mm` are the standard uncertainties of reading the two ends of the deflection from the
    curve; the compliances (mm/N) say how far each end moves with the force that it is read at.
    """

    contact_mm: float
    deflection_mm: float
    work_j: float
    energy_return: float | None
    contact_u_mm: float = 0.0
    end_u_mm: float = 0.0
    contact_compliance_mm_n: float = 0.0
    end_compliance_mm_n: float = 0.0
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
    by `load_at`: a clean curve is interpolated linearly, a noisy one fitted within 2° of the mark. The zero offset is
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
    angle_deg, torque_nm, spikes = _without_spikes(angle_deg, torque_nm)
    angle, torque = _ordered_means(angle_deg, torque_nm)
    low, high = float(angle[0]), float(angle[-1])
    if low > 0.0 or high < 0.0:
        raise CurveShortfall(
            f"torsion begins at {low if low > 0.0 else high:g}°, the torque at 0° is needed as zero",
            code="torsion_zero",
        )
    reached = [way for way, end in ((1.0, high), (-1.0, -low)) if end >= target.angle_deg]
    _refuse_short_torsion(high=high, low=low, reached=len(reached), target_deg=target.angle_deg)
    half_width = ANGLE_STRETCH * target.angle_deg
    zero = load_at(angle, torque, 0.0, half_width=half_width)
    twisted = [load_at(angle, torque, way * target.angle_deg, half_width=half_width) for way in reached]
    torques = tuple(way * (read.value - zero.value) for way, read in zip(reached, twisted, strict=True))
    count = len(reached)
    # Of two directions the mean is half of the difference of their torques: the zero drops out.
    u_zero = zero.u if count == 1 else 0.0
    return TorsionReading(
        torque_15_nm=sum(torques) / count,
        zero_offset_nm=zero.value,
        directions=count,
        by_direction_nm=torques,
        u_nm=math.hypot(u_zero, *(read.u / count for read in twisted)),
        slope_nm_deg=sum(read.slope for read in twisted) / count,
        spikes=spikes,
    )


def read_compression(
    displacement_mm: FloatArray,
    force_n: FloatArray,
    unloading: tuple[FloatArray, FloatArray] | None = None,
    *,
    target: Target = STANDARD,
) -> CompressionReading:
    """Read deflection and work at the target force (444.822 N) from the loading branch, and the energy return.

    Parameters
    ----------
    displacement_mm, force_n : array of float, shape (n,)
        Loading branch in the order it was recorded, finite, n ≥ 2.
    unloading : pair of arrays of float, optional
        Displacement (mm) and force (N) of the unloading branch as recorded.
    target : Target
        Of the protocol; the standard one is read at 444.822 N.

    Returns
    -------
    CompressionReading
        Deflection from the contact at 5 N (mm), work from there to 444.822 N by trapezoid (J), and the work given back
        over the work put in (0 to 1) of the whole recorded loop.

    Raises
    ------
    CurveShortfall
        The force begins above 5 N, never reaches 444.822 N, or reaches it without pressing the heel in.

    Notes
    -----
    Spikes are left out. Both ends are read by `crossing`: a clean curve is interpolated linearly, a noisy one fitted.
    The energy return closes the loop at the last loading point; it is None where the unloading branch stops above the
    contact force, as a part of a loop says nothing.

    References
    ----------
    .. [1] Hysteresis energy ratio of a loading and unloading loop: ASTM F1614-99, 1.5 (the return is 1 minus it).

    Examples
    --------
    >>> import numpy as np
    >>> mm, newton = np.array([0.0, 10.0]), np.array([5.0, 5.0 + 439.82216152605])
    >>> round(read_compression(mm, newton).deflection_mm, 6)
    10.0
    """
    displacement_mm, force_n, spikes = _without_spikes(displacement_mm, force_n)
    end_n = _reached_force(force_n, target)
    contact, end = _contact_and_end(displacement_mm, force_n, end_n)
    contact_mm, end_mm = contact.read.value, end.read.value
    if end_mm <= contact_mm:
        raise CurveShortfall(
            f"compression goes from {contact_mm:g} mm at contact to {end_mm:g} mm under load, not inwards",
            code="compression_backwards",
        )
    between = slice(contact.before + 1, end.before + 1)
    path_mm = np.concatenate(([contact_mm], displacement_mm[between], [end_mm]))
    path_n = np.concatenate(([CONTACT_FORCE_N], force_n[between], [end_n]))
    return CompressionReading(
        contact_mm=contact_mm,
        deflection_mm=end_mm - contact_mm,
        work_j=_area(path_n, path_mm) / MJ_PER_J,
        energy_return=None if unloading is None else _energy_return((displacement_mm, force_n), unloading),
        contact_u_mm=contact.read.u,
        end_u_mm=end.read.u,
        contact_compliance_mm_n=1.0 / contact.read.slope,
        end_compliance_mm_n=1.0 / end.read.slope,
        spikes=spikes,
    )


def _reached_force(force_n: FloatArray, target: Target) -> float:
    """The force that the curve is read at, or why it cannot be."""
    if force_n[0] > CONTACT_FORCE_N:
        raise CurveShortfall(
            f"compression begins at {force_n[0]:g} N, the first contact at {CONTACT_FORCE_N:g} N is needed",
            code="compression_contact",
        )
    end_n = min(float(force_n.max()), target.force_n)
    if end_n < target.reached_n:
        raise CurveShortfall(
            f"compression stops at {end_n:.4g} N, {target.reached_n:g} N is needed and nothing is extrapolated",
            code="compression_short",
        )
    return end_n


def _contact_and_end(displacement_mm: FloatArray, force_n: FloatArray, end_n: float) -> tuple[Crossing, Crossing]:
    # What comes after the largest force is no longer loading.
    loaded = slice(0, int(force_n.argmax()) + 1)
    way, force = displacement_mm[loaded], force_n[loaded]
    level = rising(force)
    contact, end = (
        crossing(way, force, level, mark, window=(low * mark, high * mark))
        for mark, (low, high) in ((CONTACT_FORCE_N, CONTACT_STRETCH), (end_n, END_STRETCH))
    )
    return contact, end


def _without_spikes(position: FloatArray, load: FloatArray) -> tuple[FloatArray, FloatArray, tuple[Spike, ...]]:
    marked = find_spikes(position, load)
    if not marked.any():
        return position, load, ()
    named = zip(position[marked].tolist(), load[marked].tolist(), strict=True)
    return position[~marked], load[~marked], tuple(Spike(*point) for point in named)


def _refuse_short_torsion(*, high: float, low: float, reached: int, target_deg: float) -> None:
    short = [end for end in (high, low) if OTHER_WAY_DEG < abs(end) < target_deg]
    if reached and not short:
        return
    furthest = short[0] if short else max(high, low, key=abs)
    raise CurveShortfall(
        f"torsion stops at {furthest:g}°, {target_deg:g}° is needed and nothing is extrapolated",
        code="torsion_short",
    )


def _ordered_means(position: FloatArray, load: FloatArray) -> tuple[FloatArray, FloatArray]:
    if (position[1:] > position[:-1]).all():
        return position, load
    unique, inverse, counts = np.unique(position, return_inverse=True, return_counts=True)
    return unique, np.bincount(inverse, weights=load) / counts


def _area(load: FloatArray, position: FloatArray) -> float:
    """The area under a curve by trapezoids."""
    return 0.5 * float((load[1:] + load[:-1]) @ (position[1:] - position[:-1]))


def _energy_return(loading: tuple[FloatArray, FloatArray], unloading: tuple[FloatArray, FloatArray]) -> float | None:
    put_in = _area(loading[1], loading[0])
    if unloading[1][-1] > CONTACT_FORCE_N or put_in <= 0.0:
        return None
    back_mm = np.concatenate((loading[0][-1:], unloading[0]))
    back_n = np.concatenate((loading[1][-1:], unloading[1]))
    return -_area(back_n, back_mm) / put_in
