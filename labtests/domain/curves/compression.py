"""Deflection, work and energy return from curves of heel compression."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.figures import figure
from core.domain.units import FloatArray
from labtests.domain.curves.curve_set import CurveSet
from labtests.domain.curves.curves import (
    CONTACT_FORCE_N,
    MJ_PER_J,
    STANDARD,
    CurveShortfall,
    Points,
    Target,
    raise_shortfall,
)
from labtests.domain.curves.local_fit import Row, crossings, rising
from labtests.domain.curves.spikes import Spike, without_spikes

# Stretches of a curve that count for a reading, as shares of the mark: of loads about the contact force and about the
# target force. On such a stretch the curve of a shoe is a parabola, but for its noise.
CONTACT_STRETCH = (0.2, 4.0)
END_STRETCH = (0.8, 1.2)


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
    Spikes are left out. Both ends are read by `crossings`: a clean curve is interpolated linearly, a noisy one fitted.
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
    (reading,) = read_compressions([((displacement_mm, force_n), unloading)], target=target)
    return raise_shortfall(reading)


def read_compressions(
    curves: Sequence[tuple[Points, Points | None]], *, target: Target = STANDARD
) -> list[CompressionReading | CurveShortfall]:
    """Read many compressions at once, each as `read_compression` does; a shortfall is in its curve's place.

    `curves` has the loading branch of each and its unloading branch, None where it has none.
    """
    cleaned = without_spikes([loading for loading, _ in curves])
    presses = [
        _press(points, spikes, unloading, target)
        for (points, spikes), (_, unloading) in zip(cleaned, curves, strict=True)
    ]
    read = iter(_compression_readings([press for press in presses if isinstance(press, _Press)]))
    return [next(read) if isinstance(press, _Press) else press for press in presses]


@dataclass(frozen=True, slots=True, eq=False)
class _Press:
    """A compression without spikes, the force that it is read at, and its unloading branch."""

    points: Points
    end_n: float
    unloading: Points | None
    spikes: tuple[Spike, ...]

    def loading(self) -> Points:
        """What was recorded up to the largest force: after it the heel is no longer loaded."""
        way, force = self.points
        loaded = slice(0, int(force.argmax()) + 1)
        return way[loaded], force[loaded]


def _press(
    points: Points, spikes: tuple[Spike, ...], unloading: Points | None, target: Target
) -> _Press | CurveShortfall:
    _, force_n = points
    if force_n[0] > CONTACT_FORCE_N:
        return CurveShortfall(
            f"compression begins at {figure(force_n[0])} N, the first contact at {figure(CONTACT_FORCE_N)} N is needed",
            code="compression_contact",
        )
    end_n = min(float(force_n.max()), target.force_n)
    if end_n < target.reached_n:
        return CurveShortfall(
            f"compression stops at {figure(end_n, 4)} N, {figure(target.reached_n)} N is needed and nothing is "
            "extrapolated",
            code="compression_short",
        )
    return _Press(points, end_n, unloading, spikes)


def _compression_readings(presses: Sequence[_Press]) -> list[CompressionReading | CurveShortfall]:
    if not presses:
        return []
    loadings = [press.loading() for press in presses]
    curves = CurveSet.of(loadings)
    level = np.concatenate([rising(force) for _, force in loadings])
    ends_n = np.array([press.end_n for press in presses])
    contacts = crossings(curves, level, np.full(len(presses), CONTACT_FORCE_N), window=CONTACT_STRETCH)
    ends = crossings(curves, level, ends_n, window=END_STRETCH)
    every = zip(presses, contacts.rows(), ends.rows(), strict=True)
    return [_compression_reading(press, contact, end) for press, contact, end in every]


def _compression_reading(
    press: _Press, contact: tuple[int, Row], end: tuple[int, Row]
) -> CompressionReading | CurveShortfall:
    (before_contact, (contact_mm, contact_u, contact_slope)) = contact
    (before_end, (end_mm, end_u, end_slope)) = end
    if end_mm <= contact_mm:
        return CurveShortfall(
            f"compression goes from {figure(contact_mm)} mm at contact to {figure(end_mm)} mm under load, not inwards",
            code="compression_backwards",
        )
    way, force = press.points
    between = slice(before_contact + 1, before_end + 1)
    path_mm = np.concatenate(([contact_mm], way[between], [end_mm]))
    path_n = np.concatenate(([CONTACT_FORCE_N], force[between], [press.end_n]))
    return CompressionReading(
        contact_mm=contact_mm,
        deflection_mm=end_mm - contact_mm,
        work_j=_area(path_n, path_mm) / MJ_PER_J,
        energy_return=None if press.unloading is None else _energy_return(press.points, press.unloading),
        contact_u_mm=contact_u,
        end_u_mm=end_u,
        contact_compliance_mm_n=1.0 / contact_slope,
        end_compliance_mm_n=1.0 / end_slope,
        spikes=press.spikes,
    )


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
