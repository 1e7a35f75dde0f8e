"""The test protocol as data, and the check of a test's conditions against it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from core.domain.figures import figure
from labtests.domain.curves.curves import TARGET_ANGLE_DEG, TARGET_FORCE_N, Target
from labtests.domain.files.header import Conditions

# A limit met in other units (77 degF is 25 degC) must not fail for the last bit of the conversion.
ROUNDING = 1e-9
CALIBRATED = ("force", "torque", "displacement", "angle", "temperature")


@dataclass(frozen=True, slots=True)
class Limit:
    """The accepted range of one condition, both ends included; None where open."""

    nominal: float
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class Protocol:
    """A protocol: version, the accepted range of each condition in its stored unit, and the test.

    The shoe is twisted to `torsion_deg` (°) and its heel pressed to `compression_n` (N), `repeats_wanted` times at
    least, on a rig whose `calibrations` are in date.
    """

    version: str
    conditioned_h: Limit
    temperature_c: Limit
    heel_clamp_n: Limit
    forefoot_clamp_n: Limit
    torsion_deg: float = TARGET_ANGLE_DEG
    compression_n: float = TARGET_FORCE_N
    repeats_wanted: int = 1
    calibrations: tuple[str, ...] = CALIBRATED

    @property
    def target(self) -> Target:
        """What curves are read at; readings at another angle or force are not comparable."""
        return Target(self.torsion_deg, self.compression_n)


P1 = Protocol(
    version="P1",
    conditioned_h=Limit(48.0, 48.0, None),
    temperature_c=Limit(23.0, 21.0, 25.0),
    heel_clamp_n=Limit(444.8, 444.8 * 0.95, 444.8 * 1.05),
    forefoot_clamp_n=Limit(177.9, 177.9 * 0.95, 177.9 * 1.05),
)

WORDS = {
    "conditioned_h": ("conditioning time", "h"),
    "temperature_c": ("midsole temperature", "°C"),
    "heel_clamp_n": ("heel clamp", "N"),
    "forefoot_clamp_n": ("forefoot clamp", "N"),
}


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a test is held: a code for machines, a message for people."""

    code: str
    message: str


@dataclass(frozen=True, slots=True)
class CalibrationPeriod:
    """A calibration of one quantity of a rig and the days it covers, both included; it counts once it is signed."""

    quantity: str
    calibrated_on: date
    due_on: date
    is_signed: bool = True


def check_conditions(protocol: Protocol, conditions: Sequence[Conditions]) -> tuple[Reason, ...]:
    """List every condition outside the protocol's accepted range.

    Parameters
    ----------
    protocol : Protocol
        Accepted ranges.
    conditions : sequence of Conditions
        One, or one a repeat; the same reason is said once.

    Returns
    -------
    tuple of Reason
        Empty where all is accepted.

    References
    ----------
    .. [1] Temperature: ISO 18454 standard atmosphere 23 °C ± 2 °C (from memory). Others: common practice, no source.

    Examples
    --------
    >>> check_conditions(P1, [Conditions(50.0, 27.5, 445.0, 178.0)])[0].message
    'midsole temperature is 27.5 °C; accepted: 21 to 25 °C'
    """
    reasons = (
        _reason_for(name, getattr(given, name), getattr(protocol, name)) for given in conditions for name in WORDS
    )
    return tuple(dict.fromkeys(reason for reason in reasons if reason is not None))


def check_calibrations(
    calibrations: Sequence[CalibrationPeriod], *, rig: str, on: date, quantities: Sequence[str] = CALIBRATED
) -> tuple[Reason, ...]:
    """List every quantity of a rig without a calibration in date on the test day.

    References
    ----------
    .. [1] ISO/IEC 17025:2017, 6.4 (from memory).

    Examples
    --------
    >>> check_calibrations([], rig="rig-1", on=date(2026, 3, 4), quantities=["force"])[0].code
    'calibration_force'
    """
    reasons = []
    for quantity in quantities:
        dues = [period for period in calibrations if period.quantity == quantity and period.calibrated_on <= on]
        covering = [period for period in dues if on <= period.due_on]
        if any(period.is_signed for period in covering):
            continue
        if covering:
            message = f"{quantity} calibration of rig {rig} waits for its second signature; it counts once it is signed"
            reasons.append(Reason(unsigned_code(quantity), message))
            continue
        last = max((period.due_on for period in dues), default=None)
        state = f"ran out on {last.isoformat()}" if last else "is missing"
        message = f"{quantity} calibration of rig {rig} {state}; it must be in date on the test day {on.isoformat()}"
        reasons.append(Reason(f"calibration_{quantity}", message))
    return tuple(reasons)


def unsigned_code(quantity: str) -> str:
    """Code of the reason that a calibration waits for its second signature.

    Examples
    --------
    >>> unsigned_code("force")
    'calibration_force_unsigned'
    """
    return f"calibration_{quantity}_unsigned"


def check_repeats(protocol: Protocol, repeats: int) -> tuple[Reason, ...]:
    """Say where a test has fewer repeats than the protocol wants.

    Examples
    --------
    >>> check_repeats(P1, 1)
    ()
    """
    if repeats >= protocol.repeats_wanted:
        return ()
    message = f"the test has {repeats} of the {protocol.repeats_wanted} repeats that protocol {protocol.version} wants"
    return (Reason("repeats", message),)


def _reason_for(name: str, value: float, limit: Limit) -> Reason | None:
    is_low = limit.low is not None and value < limit.low - ROUNDING
    is_high = limit.high is not None and value > limit.high + ROUNDING
    if not is_low and not is_high:
        return None
    words, unit = WORDS[name]
    return Reason(name, f"{words} is {figure(value)} {unit}; accepted: {_range_of(limit)} {unit}")


def _range_of(limit: Limit) -> str:
    ends = [figure(round(end, 2)) for end in (limit.low, limit.high) if end is not None]
    if limit.low is None:
        return f"at most {ends[0]}"
    if limit.high is None:
        return f"at least {ends[0]}"
    return " to ".join(ends)
