"""What is odd about a test although it is within the protocol: a sign, copied repeats, a jump, a range."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import combinations

from core.domain.figures import figure
from labtests.domain.curves.curves import CONTACT_FORCE_N, REACHED_FORCE_N, STANDARD, Target
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores.evaluation import Evaluation, Repeat
from labtests.domain.scores.protocol import Reason

# Recordings of so many points never agree to the last digit; a drawn line of fewer may.
RECORDED_POINTS = 20
# Common practice, no source: what a shoe that nobody wore in between does not change by.
JUMP = 0.25
RANGED = {"torque": "N·m", "displacement": "mm", "angle": "°", "force": "N"}


@dataclass(frozen=True, slots=True)
class LastResult:
    """The last result of a specimen before a test: N·m and mm, null where it was not read."""

    test: int
    performed_on: date
    torque_15_nm: float | None
    deflection_mm: float | None


def check_signs(
    curves: Sequence[RecordedCurve], repeats: Sequence[Repeat], *, target: Target = STANDARD
) -> tuple[Reason, ...]:
    """List repeats whose load goes the other way than the rig moved.

    Parameters
    ----------
    curves : sequence of RecordedCurve
        The curves; empty where only readings were submitted.
    repeats : sequence of Repeat
        What was read.
    target : Target
        The angle (°) that the protocol twists to.

    Examples
    --------
    >>> check_signs([], [Repeat(1, torque_15_nm=-5.0)])[0].code
    'sign_reversed'
    """
    twisted = ((one.number, torque) for one in repeats for torque in _torques(one) if torque <= 0.0)
    reasons = [
        Reason(
            "sign_reversed",
            f"repeat {number}: {target.torque_name} is {figure(torque, 4)} N·m, it must rise with the angle; correct "
            "the sign of torque or angle",
        )
        for number, torque in twisted
    ]
    reasons += [
        Reason(
            "sign_reversed",
            f"repeat {one.repeat}: the force falls to {figure(float(one.load.min()), 4)} N under load; correct its "
            "sign",
        )
        for one in curves
        if one.test == "compression" and one.branch == "loading" and _is_pulled(one)
    ]
    return tuple(reasons)


def _torques(repeat: Repeat) -> tuple[float, ...]:
    """The torque of each direction: the mean of one that rises and one that falls may well be above 0."""
    if repeat.torsion is not None:
        return repeat.torsion.by_direction_nm
    return () if repeat.torque_15_nm is None else (repeat.torque_15_nm,)


def _is_pulled(curve: RecordedCurve) -> bool:
    return float(curve.load.max()) < CONTACT_FORCE_N and float(curve.load.min()) <= -REACHED_FORCE_N


def check_copies(curves: Sequence[RecordedCurve]) -> tuple[Reason, ...]:
    """List repeats whose recordings are the same to the last digit: one of them was copied.

    Readings of a display are rounded, so that repeats of them may well agree; only curves are compared.
    """
    recorded = [one for one in curves if one.branch == "loading" and one.load.size >= RECORDED_POINTS]
    return tuple(
        Reason(
            "repeats_identical",
            f"repeats {first.repeat} and {second.repeat} of {first.test} are the same to the last digit; submit what "
            "each repeat gave",
        )
        for first, second in combinations(recorded, 2)
        if first.test == second.test and _is_same(first, second)
    )


def _is_same(first: RecordedCurve, second: RecordedCurve) -> bool:
    return first.load.tobytes() == second.load.tobytes() and first.position.tobytes() == second.position.tobytes()


def check_jump(last: LastResult | None, evaluation: Evaluation, *, target: Target = STANDARD) -> tuple[Reason, ...]:
    """Name each reading that differs by more than a quarter from the last result of the specimen.

    Examples
    --------
    >>> from datetime import date
    >>> from labtests.domain.scores.evaluation import evaluate_readings
    >>> check_jump(LastResult(7, date(2026, 3, 1), 5.0, 6.0), evaluate_readings([]))
    ()
    """
    if last is None:
        return ()
    reasons = []
    jumping = (("torque_15_nm", target.torque_name, "N·m"), ("deflection_mm", "heel deflection", "mm"))
    for name, words, unit in jumping:
        summary, before = getattr(evaluation, name), getattr(last, name)
        if summary is None or not before or abs(summary.mean - before) <= JUMP * abs(before):
            continue
        change = (summary.mean - before) / abs(before)
        reasons.append(
            Reason(
                "jump",
                f"{words} is {figure(summary.mean, 4)} {unit}; the last test of this specimen, test {last.test} of "
                f"{last.performed_on.isoformat()}, gave {figure(before, 4)} {unit}, a jump of "
                f"{figure(round(100.0 * change), plus=True)} %",
            )
        )
    return tuple(reasons)


def check_ranges(
    ranges: Mapping[str, tuple[float, float]], evaluation: Evaluation, target: Target
) -> tuple[Reason, ...]:
    """Name each quantity that went beyond what its calibration covers.

    Parameters
    ----------
    ranges : mapping of quantity to its smallest and largest calibrated value (N, N·m, mm, °), both included
        A quantity whose certificate states no range is left out.
    evaluation : Evaluation
        What was read; the largest repeat counts.
    target : Target
        The angle and the force that the test went to.

    Examples
    --------
    >>> from labtests.domain.scores.evaluation import evaluate_readings
    >>> check_ranges({"force": (0.0, 400.0)}, evaluate_readings([]), Target())[0].code
    'outside_calibrated_range'
    """
    torques = [one.torque_15_nm for one in evaluation.repeats if one.torque_15_nm is not None]
    depths = [one.deflection_mm for one in evaluation.repeats if one.deflection_mm is not None]
    reached = {"torque": torques, "displacement": depths, "angle": [target.angle_deg], "force": [target.force_n]}
    reasons = []
    for quantity, unit in RANGED.items():
        low, high = ranges.get(quantity, (-math.inf, math.inf))
        if outside := [value for value in reached[quantity] if not low <= value <= high]:
            message = (
                f"{quantity} went to {figure(max(outside, key=abs), 4)} {unit}; its calibration covers "
                f"{figure(low)} to {figure(high)} {unit}. Correct the range on record, or "
                "calibrate the rig over a wider one"
            )
            reasons.append(Reason("outside_calibrated_range", message))
    return tuple(reasons)


def check_still_there(disposed_on: date | None, performed_on: date) -> tuple[Reason, ...]:
    """Say where a specimen was disposed of before the test.

    Examples
    --------
    >>> from datetime import date
    >>> check_still_there(date(2026, 3, 1), date(2026, 3, 4))[0].code
    'specimen_disposed'
    """
    if disposed_on is None or performed_on <= disposed_on:
        return ()
    message = (
        f"the specimen was disposed of on {disposed_on.isoformat()}, before the test; correct the code or the date"
    )
    return (Reason("specimen_disposed", message),)
