"""What a test reads under errors of its rig: its curves changed as the errors would have, and read again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.curves.compression import read_compressions
from labtests.domain.curves.curves import CONTACT_FORCE_N, MJ_PER_J, CurveShortfall, Points, Target, raise_shortfall
from labtests.domain.curves.torsion import read_torsions

# Errors are tabulated this many standard uncertainties to either side, at so many places; in between the readings are
# straight lines, as the curves are. One normal draw in a million is further out.
REACH = 5.0
PLACES = 9


@dataclass(frozen=True, slots=True)
class Response:
    """Mean readings as functions of errors, from arrays to arrays.

    `torque_nm` (N·m) by the error of the angle at its mark (°); `compression`, which is deflection (mm) and work (J),
    by the errors of the force at the contact and at the target (N).
    """

    torque_nm: Callable[[FloatArray], FloatArray]
    compression: Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]


def response_of_curves(
    torsions: Sequence[Points], compressions: Sequence[Points], *, target: Target, u: tuple[float, float, float]
) -> Response:
    """Read curves again under errors.

    Parameters
    ----------
    torsions, compressions : sequence of (position, load)
        The loading curves of the repeats, which can all be read.
    target : Target
        What they are read at.
    u : three floats
        Standard uncertainties of the angle at its mark (°), and of the force at the contact and at the target (N).

    Returns
    -------
    Response
        An error of the angle stretches the angles. Errors of the force are added to it, from the one at the contact to
        the other at the target; what each does is added up. Where an error leaves a curve short of its mark, the
        opposite error is taken for it.

    References
    ----------
    .. [1] JCGM 101:2008, 7.3: the model, here the reading itself, at each draw (from memory).
    """
    by_angle = _tabulated(u[0], lambda error: [_torque(torsions, target, error)])
    by_contact = _tabulated(u[1], lambda error: _deflection_and_work(compressions, target, error, 0.0))
    by_end = _tabulated(u[2], lambda error: _deflection_and_work(compressions, target, 0.0, error))
    as_read = _deflection_and_work(compressions, target, 0.0, 0.0)

    def compression(contact: FloatArray, end: FloatArray) -> tuple[FloatArray, FloatArray]:
        deflection, work = (one + other for one, other in zip(by_contact(contact), by_end(end), strict=True))
        return deflection - as_read[0], work - as_read[1]

    return Response(lambda angle: by_angle(angle)[0], compression)


def response_of_readings(torque_nm: float, deflection_mm: float, work_j: float, *, target: Target) -> Response:
    """Errors on readings alone: along the secants, as nothing else is known of the curves.

    Parameters
    ----------
    torque_nm, deflection_mm, work_j : float
        Means of the repeats.
    target : Target
        What was read at.
    """

    def compression(contact: FloatArray, end: FloatArray) -> tuple[FloatArray, FloatArray]:
        share = end / target.force_n
        # The strip that the curve gains at its end: the target force over the displacement added.
        gained = target.force_n * deflection_mm * share / MJ_PER_J
        return deflection_mm * (1.0 + share), (work_j + gained) / (1.0 + share)

    return Response(lambda angle: torque_nm * (1.0 + angle / target.angle_deg), compression)


def _tabulated(u: float, read: Callable[[float], Sequence[float]]) -> Callable[[FloatArray], list[FloatArray]]:
    """What `read` gives at evenly spaced errors, and straight lines in between."""
    places = REACH * (u or 1.0) * np.linspace(-1.0, 1.0, PLACES)
    as_read = np.array(read(0.0))
    values = np.array([_or_opposite(read, error, as_read) for error in places.tolist()])
    columns = [values[:, index] for index in range(values.shape[1])]
    return lambda errors: [np.interp(errors, places, column) for column in columns]


def _or_opposite(read: Callable[[float], Sequence[float]], error: float, as_read: FloatArray) -> FloatArray:
    try:
        return np.array(read(error), dtype=np.float64)
    except CurveShortfall:
        return 2.0 * as_read - np.array(read(-error), dtype=np.float64)


def _torque(torsions: Sequence[Points], target: Target, error_deg: float) -> float:
    stretch = 1.0 + error_deg / target.angle_deg
    read = read_torsions([(angle * stretch, load) for angle, load in torsions], target=target)
    return float(np.mean([raise_shortfall(one).torque_15_nm for one in read]))


def _deflection_and_work(
    compressions: Sequence[Points], target: Target, contact_n: float, end_n: float
) -> tuple[float, float]:
    shares = ((force - CONTACT_FORCE_N) / (target.force_n - CONTACT_FORCE_N) for _, force in compressions)
    wrong = [
        ((way, force + contact_n * (1.0 - share) + end_n * share), None)
        for (way, force), share in zip(compressions, shares, strict=True)
    ]
    read = [raise_shortfall(one) for one in read_compressions(wrong, target=target)]
    deflection, work = np.mean([(one.deflection_mm, one.work_j) for one in read], axis=0)
    return float(deflection), float(work)
