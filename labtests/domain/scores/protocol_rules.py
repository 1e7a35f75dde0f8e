"""What a protocol may say."""

from __future__ import annotations

import math

from core.domain.figures import figure
from labtests.domain.curves.curves import CONTACT_FORCE_N
from labtests.domain.scores.protocol import CALIBRATED, WORDS, Limit, Protocol

MOST_TORSION_DEG = 60.0
MOST_FORCE_N = 5000.0
MOST_REPEATS = 50
# Of each condition the widest range that makes sense.
WIDEST = {
    "conditioned_h": (0.0, 8760.0),
    "temperature_c": (-40.0, 80.0),
    "heel_clamp_n": (0.0, 5000.0),
    "forefoot_clamp_n": (0.0, 5000.0),
}


def protocol_problems(given: Protocol) -> dict[str, list[str]]:
    """List what a protocol can't say, by field.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from labtests.domain.scores.protocol import P1
    >>> protocol_problems(P1)
    {}
    >>> protocol_problems(replace(P1, torsion_deg=0.0))
    {'torsion_deg': ['The twist angle is more than 0° and at most 60°, got 0°.']}
    """
    problems: dict[str, list[str]] = {}
    for name, (words, unit) in WORDS.items():
        message = _limit_problem(getattr(given, name), WIDEST[name], unit)
        if message:
            problems[name] = [f"The {words}: {message}"]
    if not 0.0 < given.torsion_deg <= MOST_TORSION_DEG:
        most, got = figure(MOST_TORSION_DEG), figure(given.torsion_deg)
        message = f"The twist angle is more than 0° and at most {most}°, got {got}°."
        problems["torsion_deg"] = [message]
    if not CONTACT_FORCE_N < given.compression_n <= MOST_FORCE_N:
        message = f"The compression load is more than {figure(CONTACT_FORCE_N)} N and at most {figure(MOST_FORCE_N)} N."
        problems["compression_n"] = [message]
    if not 1 <= given.repeats_wanted <= MOST_REPEATS:
        problems["repeats_wanted"] = [f"A test has 1 to {MOST_REPEATS} repeats."]
    unknown = [name for name in given.calibrations if name not in CALIBRATED]
    if unknown or not given.calibrations or len(set(given.calibrations)) != len(given.calibrations):
        problems["calibrations"] = [f"Name at least one calibration, and each only once: {', '.join(CALIBRATED)}."]
    return problems


def _limit_problem(limit: Limit, widest: tuple[float, float], unit: str) -> str:
    ends = [end for end in (limit.low, limit.nominal, limit.high) if end is not None]
    if not all(math.isfinite(end) and widest[0] <= end <= widest[1] for end in ends):
        return f"give values from {figure(widest[0])} to {figure(widest[1])} {unit}."
    if ends != sorted(ends):
        return "the nominal value is in the accepted range, and the range ends above where it begins."
    return ""
