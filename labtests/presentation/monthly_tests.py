"""The months of the lab in words: how many tests, what share was held, and why."""

from __future__ import annotations

from dataclasses import dataclass

from core.web import display
from labtests.domain.scores.protocol import CALIBRATED
from labtests.models.benchtests import INCIDENT
from labtests.selectors.throughput import Month

# A short name for the code of every reason to hold a test. A code of an earlier version is shown as it is.
CODE_WORDS = {
    "conditioned_h": "conditioning time",
    "temperature_c": "midsole temperature",
    "heel_clamp_n": "heel clamp",
    "forefoot_clamp_n": "forefoot clamp",
    "conditioning_differs": "conditioning time differs from the log",
    "conditioning_lapsed": "too long out of the chamber",
    "conditioning_struck": "conditioning entry struck out",
    "climate_excursion": "chamber temperature out of range",
    **{f"calibration_{quantity}": f"{quantity} calibration" for quantity in CALIBRATED},
    **{f"calibration_{quantity}_unsigned": f"{quantity} calibration not signed yet" for quantity in CALIBRATED},
    **{f"calibration_{quantity}_struck": f"{quantity} calibration struck out" for quantity in CALIBRATED},
    "readings_target": "readings at another angle or load",
    "repeats": "too few repeats",
    "torsion_missing": "no torsion curve",
    "torsion_short": "torsion curve too short",
    "torsion_zero": "torsion curve without its zero",
    "compression_missing": "no compression curve",
    "compression_short": "compression curve too short",
    "compression_contact": "compression curve without contact",
    "compression_backwards": "compression curve runs backwards",
    "sign_reversed": "reversed sign",
    "outside_calibrated_range": "outside the calibrated range",
    "spike": "spikes in a curve",
    "repeats_identical": "identical repeats",
    "repeat_outlier": "a repeat far from the others",
    "repeat_trend": "repeats that drift",
    "repeat_scatter": "repeats that scatter more than usual",
    "jump": "jump from the last result of the specimen",
    "specimen_disposed": "specimen disposed of before",
    "reviewer": "put on hold by a reviewer",
    INCIDENT: "in doubt after an incident",
}


@dataclass(frozen=True, slots=True)
class MonthLine:
    """A month in the table."""

    month: str
    tests: int
    held_ever: int
    share_held: str
    held: int
    waiting: int
    approved: int
    void: int
    why: tuple[str, ...]


def month_line(month: Month) -> MonthLine:
    return MonthLine(
        month=f"{month.begins_on:%B %Y}",
        tests=month.tests,
        held_ever=month.held_ever,
        share_held=display.percent(month.share_held),
        held=month.held,
        waiting=month.waiting,
        approved=month.approved,
        void=month.void,
        why=tuple(f"{CODE_WORDS.get(code, code.replace('_', ' '))}: {n}" for code, n in month.why),
    )
