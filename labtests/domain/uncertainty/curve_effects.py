"""What reading curves leaves open in a test: how steep its curves are at their marks, and the noise around them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean

from labtests.domain.curves.curves import CONTACT_FORCE_N, MJ_PER_J, Target
from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.uncertainty.propagation import Component, Effect


@dataclass(frozen=True, slots=True)
class Slopes:
    """How readings move with their marks: torque by angle (N·m/°), both ends of the deflection by force (mm/N)."""

    torque_nm_deg: float
    contact_mm_n: float
    end_mm_n: float


def slopes_of(evaluation: Evaluation, target: Target) -> Slopes:
    """Mean slopes of a test's curves at the marks.

    Returns
    -------
    Slopes
        Where only readings were submitted the slopes from zero to the reading, and none at the contact.

    Examples
    --------
    >>> from labtests.domain.scores.evaluation import evaluate_readings
    >>> slopes_of(evaluate_readings([]), Target())
    Slopes(torque_nm_deg=0.0, contact_mm_n=0.0, end_mm_n=0.0)
    """
    torque, deflection = evaluation.torque_15_nm, evaluation.deflection_mm
    torsions = [one.torsion for one in evaluation.repeats if one.torsion is not None]
    compressions = [one.compression for one in evaluation.repeats if one.compression is not None]
    by_angle = _mean([one.slope_nm_deg for one in torsions])
    by_force = _mean([one.end_compliance_mm_n for one in compressions])
    contact = _mean([one.contact_compliance_mm_n for one in compressions])
    if by_angle is None:
        by_angle = torque.mean / target.angle_deg if torque else 0.0
    if by_force is None:
        by_force = deflection.mean / target.force_n if deflection else 0.0
    return Slopes(by_angle, contact or 0.0, by_force)


def reading_effects(evaluation: Evaluation, target: Target) -> tuple[Effect, ...]:
    """What the noise of the curves leaves open in the means of the repeats.

    Parameters
    ----------
    evaluation : Evaluation
        Of curves; without curves there are no effects.
    target : Target
        What the curves were read at.

    Returns
    -------
    tuple of Effect
        Torque (N·m), and the two ends of the deflection (mm), which move the work along with them.

    Notes
    -----
    Repeats differ by this noise too, so that it counts twice where a test's own repeats give the scatter: on the safe
    side, and small. It counts once where the scatter is another's.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.2.3 and 5.1.3: the variance of a mean, and a change carried through the function.
    """
    torsions = [one.torsion.u_nm for one in evaluation.repeats if one.torsion is not None]
    compressions = [one.compression for one in evaluation.repeats if one.compression is not None]
    contacts, ends = [one.contact_u_mm for one in compressions], [one.end_u_mm for one in compressions]
    sources = (
        ("torque, noise of the curve", torsions, "N·m", (1.0, 0.0, 0.0)),
        ("contact, noise of the curve", contacts, "mm", (0.0, -1.0, -CONTACT_FORCE_N / MJ_PER_J)),
        ("end of compression, noise of the curve", ends, "mm", (0.0, 1.0, target.force_n / MJ_PER_J)),
    )
    return tuple(
        Effect(Component(source, "A", u, unit), acts)
        for source, each, unit, acts in sources
        if (u := _u_of_mean(each)) > 0.0
    )


def contact_effect(
    evaluation: Evaluation, target: Target, *, u_force_n: float, df: float = math.inf, calibration: int | None = None
) -> tuple[Effect, ...]:
    """What an error of the force near zero does: it moves the contact, from which the deflection counts.

    Parameters
    ----------
    evaluation : Evaluation
        Of curves; readings say nothing of the contact, and there is no effect.
    target : Target
        What the curves were read at.
    u_force_n : float
        Standard uncertainty of the force at the contact (N).
    df : float
        Its degrees of freedom; inf where unlimited.
    calibration : int, optional
        Number of the calibration's record.

    Returns
    -------
    tuple of Effect
        One, or none without compression curves.

    Notes
    -----
    Errors of the force at the contact and at the target count as independent of each other; between them they change
    linearly. An error e at the contact moves it by e over the slope of the curve there, which is several times less
    steep than the whole, and adds e (1 - F/target) to every ordinate.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.3; the error model is ours.
    """
    deflection, work = evaluation.deflection_mm, evaluation.work_j
    compressions = [one.compression for one in evaluation.repeats if one.compression is not None]
    contact = _mean([one.contact_compliance_mm_n for one in compressions])
    if contact is None or deflection is None or work is None:
        return ()
    by_work = (deflection.mean + CONTACT_FORCE_N * contact) / MJ_PER_J - work.mean / target.force_n
    component = Component("force, calibration at the contact", "B", u_force_n, "N", df, calibration)
    return (Effect(component, (0.0, contact, by_work)),)


def _mean(values: Sequence[float]) -> float | None:
    return fmean(values) if values else None


def _u_of_mean(each: Iterable[float]) -> float:
    known = list(each)
    return math.hypot(*known) / len(known) if known else 0.0
