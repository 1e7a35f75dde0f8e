"""One submitted test, evaluated: the reading of every repeat, their mean and spread, and what could not be read."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from core.domain.figures import figure
from labtests.domain.curves.compression import CompressionReading, read_compressions
from labtests.domain.curves.curves import STANDARD, CurveShortfall, Points, Target
from labtests.domain.curves.spikes import Spike
from labtests.domain.curves.torsion import TorsionReading, read_torsions
from labtests.domain.files.readingsfile import RepeatReading
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores.protocol import Reason
from labtests.domain.scores.scoring import estimated_work_j

SPIKE_UNITS = {"torsion": ("°", "N·m"), "compression": ("mm", "N")}
NAMED_SPIKES = 3
Read = TypeVar("Read")
Reading = TypeVar("Reading", TorsionReading, CompressionReading)


@dataclass(frozen=True, slots=True)
class Repeat:
    """What one repeat gave; None where its curve is missing or falls short.

    `torsion` and `compression` say how its curves were read; None where only readings were submitted.
    """

    number: int
    torque_15_nm: float | None = None
    zero_offset_nm: float | None = None
    deflection_mm: float | None = None
    contact_mm: float | None = None
    work_j: float | None = None
    energy_return: float | None = None
    torsion: TorsionReading | None = None
    compression: CompressionReading | None = None


@dataclass(frozen=True, slots=True)
class Summary:
    """Repeats of one quantity: how many, their mean, and their standard deviation (None below 2)."""

    n: int
    mean: float
    sd: float | None


@dataclass(frozen=True, slots=True)
class Evaluation:
    """A test evaluated. Summaries are None where no repeat gave the quantity; `reasons` say why."""

    repeats: tuple[Repeat, ...]
    torque_15_nm: Summary | None
    deflection_mm: Summary | None
    work_j: Summary | None
    energy_return: Summary | None
    work_is_estimated: bool
    reasons: tuple[Reason, ...]


def summarise(values: Sequence[float | None]) -> Summary | None:
    """Mean and sample standard deviation of the values that are there.

    Examples
    --------
    >>> summarise([1.0, 3.0, None])
    Summary(n=2, mean=2.0, sd=1.4142135623730951)
    """
    present = [value for value in values if value is not None]
    n = len(present)
    if n == 0:
        return None
    mean = sum(present) / n
    sd = math.sqrt(sum((value - mean) ** 2 for value in present) / (n - 1)) if n > 1 else None
    return Summary(n, mean, sd)


def evaluate_readings(readings: Sequence[RepeatReading], *, target: Target = STANDARD) -> Evaluation:
    """Evaluate a test of which only readings exist; the work is estimated from the deflection.

    A readings file has the readings of the standard target alone: under another one the test can't count.

    Examples
    --------
    >>> from labtests.domain.files.header import Conditions
    >>> nominal = Conditions(50.0, 23.0, 444.8, 177.9)
    >>> evaluate_readings([RepeatReading(1, 5.1, 5.9, nominal)]).torque_15_nm.mean
    5.1
    """
    repeats = tuple(
        Repeat(
            reading.repeat,
            torque_15_nm=reading.torque_15_nm,
            deflection_mm=reading.deflection_mm,
            work_j=float(estimated_work_j(reading.deflection_mm)),
        )
        for reading in readings
    )
    reasons: tuple[Reason, ...] = ()
    if target != STANDARD:
        message = (
            f"a readings file has the torque at {figure(STANDARD.angle_deg)}° and the deflection at "
            f"{figure(STANDARD.force_n, 4)} N, "
            f"but the protocol reads at {figure(target.angle_deg)}° and {figure(target.force_n, 4)} N; send the curves"
        )
        reasons = (Reason("readings_target", message),)
    return _evaluation(repeats, reasons, work_is_estimated=True)


def evaluate_curves(curves: Sequence[RecordedCurve], *, target: Target = STANDARD) -> Evaluation:
    """Evaluate the curves of a test, repeat by repeat.

    Parameters
    ----------
    curves : sequence of RecordedCurve
        As read from a bench file.
    target : Target
        What the protocol reads the curves at.

    Returns
    -------
    Evaluation
        With a reason for each curve that is missing or stops short; such a test is held, never scored by guess.

    Examples
    --------
    >>> [reason.code for reason in evaluate_curves([]).reasons]
    ['torsion_missing', 'compression_missing']
    """
    (evaluation,) = evaluate_tests([curves], target=target)
    return evaluation


def evaluate_tests(tests: Sequence[Sequence[RecordedCurve]], *, target: Target = STANDARD) -> list[Evaluation]:
    """Evaluate the curves of many tests, each as `evaluate_curves` does; the curves of all are read at once."""
    branches = [_branches_of(curves) for curves in tests]
    twisted = iter(read_torsions([points for one in branches for points in one.twists()], target=target))
    pressed = iter(read_compressions([points for one in branches for points in one.presses()], target=target))
    return [_evaluated(one, _by_repeat(one.torsion, twisted), _by_repeat(one.compression, pressed)) for one in branches]


def _by_repeat(curves: Mapping[int, RecordedCurve], read: Iterator[Read]) -> dict[int, Read]:
    """The next readings, which are those of these curves."""
    return dict(zip(curves, itertools.islice(read, len(curves)), strict=True))


@dataclass(frozen=True, slots=True, eq=False)
class _Branches:
    """The curves of a test by repeat: loading in torsion, loading and unloading in compression."""

    repeats: tuple[int, ...]
    torsion: dict[int, RecordedCurve]
    compression: dict[int, RecordedCurve]
    unloading: dict[int, RecordedCurve]

    def twists(self) -> list[Points]:
        return [_points(one) for one in self.torsion.values()]

    def presses(self) -> list[tuple[Points, Points | None]]:
        back = self.unloading
        return [
            (_points(one), _points(back[repeat]) if repeat in back else None)
            for repeat, one in self.compression.items()
        ]


def _branches_of(curves: Sequence[RecordedCurve]) -> _Branches:
    by_branch: dict[tuple[str, str], dict[int, RecordedCurve]] = defaultdict(dict)
    for one in curves:
        by_branch[one.test, one.branch][one.repeat] = one
    keys = ("torsion", "loading"), ("compression", "loading"), ("compression", "unloading")
    return _Branches(tuple(sorted({one.repeat for one in curves})), *(by_branch[key] for key in keys))


def _points(curve: RecordedCurve) -> Points:
    return curve.position, curve.load


def _evaluated(
    branches: _Branches,
    twisted: Mapping[int, TorsionReading | CurveShortfall],
    pressed: Mapping[int, CompressionReading | CurveShortfall],
) -> Evaluation:
    reasons: list[Reason] = []
    repeats = []
    for number in branches.repeats:
        torsion = _sound(branches.torsion.get(number), twisted.get(number), reasons)
        compression = _sound(branches.compression.get(number), pressed.get(number), reasons)
        repeats.append(_repeat(number, torsion, compression))
    for test, curves in (("torsion", branches.torsion), ("compression", branches.compression)):
        if not curves:
            reasons.append(Reason(f"{test}_missing", f"there is no loading curve of {test}"))
    return _evaluation(tuple(repeats), tuple(reasons), work_is_estimated=False)


def _sound(curve: RecordedCurve | None, read: Reading | CurveShortfall | None, reasons: list[Reason]) -> Reading | None:
    """What was read of a curve, if there is one and it could be read; `reasons` receives what is wrong with it."""
    if curve is None or read is None:
        return None
    if isinstance(read, CurveShortfall):
        reasons.append(_shortfall_reason(read, curve.repeat))
        return None
    reasons += _spike_reasons(curve, read.spikes)
    return read


def _shortfall_reason(shortfall: CurveShortfall, repeat: int) -> Reason:
    return Reason(shortfall.code, f"repeat {repeat}: {shortfall}")


def _spike_reasons(curve: RecordedCurve, spikes: Sequence[Spike]) -> list[Reason]:
    if not spikes:
        return []
    place, load = SPIKE_UNITS[curve.test]
    named = "; ".join(
        f"{figure(spike.load, 4)} {load} at {figure(spike.position, 4)} {place}" for spike in spikes[:NAMED_SPIKES]
    )
    more = f" and {len(spikes) - NAMED_SPIKES} more" if len(spikes) > NAMED_SPIKES else ""
    message = (
        f"repeat {curve.repeat}: the curve of {curve.test} jumps away and back at single points: {named}{more}. They "
        "are left out of the reading; look at the curve, and test again where they are more than a fault of the signal"
    )
    return [Reason("spike", message)]


def _repeat(number: int, torsion: TorsionReading | None, compression: CompressionReading | None) -> Repeat:
    return Repeat(
        number,
        torque_15_nm=torsion.torque_15_nm if torsion else None,
        zero_offset_nm=torsion.zero_offset_nm if torsion else None,
        deflection_mm=compression.deflection_mm if compression else None,
        contact_mm=compression.contact_mm if compression else None,
        work_j=compression.work_j if compression else None,
        energy_return=compression.energy_return if compression else None,
        torsion=torsion,
        compression=compression,
    )


def _evaluation(repeats: tuple[Repeat, ...], reasons: tuple[Reason, ...], *, work_is_estimated: bool) -> Evaluation:
    return Evaluation(
        repeats=repeats,
        torque_15_nm=summarise([repeat.torque_15_nm for repeat in repeats]),
        deflection_mm=summarise([repeat.deflection_mm for repeat in repeats]),
        work_j=summarise([repeat.work_j for repeat in repeats]),
        energy_return=summarise([repeat.energy_return for repeat in repeats]),
        work_is_estimated=work_is_estimated,
        reasons=reasons,
    )
