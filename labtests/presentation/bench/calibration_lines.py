"""Calibrations as lines of lists: the newest of each quantity, and all of a rig."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from core.domain.figures import figure
from core.web import display
from labtests.domain.scores.protocol import CALIBRATED
from labtests.forms.quantities import with_unit
from labtests.models import Calibration
from labtests.models.rigs import CALIBRATION_UNITS
from labtests.presentation.bench.bench_day import UNSIGNED, calibration_words
from labtests.selectors.bench.rigs import CalibrationState


@dataclass(frozen=True, slots=True)
class CalibrationLine:
    """One calibration in a list."""

    quantity: str
    certificate: str
    calibrated_on: str
    due_on: str
    u: str
    resolution: str
    state: str
    css: str
    words: str = ""
    pk: int | None = None


CALIBRATION_CSS = {
    "in date": "state--good",
    "due soon": "state--wait",
    "overdue": "state--stop",
    "missing": "state--stop",
    "unsigned": "state--wait",
    "replaced": "state--off",
    "struck": "state--off",
}


def calibration_line(quantity: str, calibration: Calibration | None, state: str) -> CalibrationLine:
    if calibration is None:
        empty = display.MISSING
        return CalibrationLine(quantity, empty, empty, empty, empty, empty, state, CALIBRATION_CSS[state])
    unit = CALIBRATION_UNITS[quantity]
    return CalibrationLine(
        quantity=quantity,
        certificate=calibration.certificate,
        calibrated_on=display.day(calibration.calibrated_on),
        due_on=display.day(calibration.due_on),
        u=with_unit(figure(calibration.standard_uncertainty), unit),
        resolution=with_unit(figure(calibration.resolution), unit),
        state=state,
        css=CALIBRATION_CSS[state],
        words=UNSIGNED if state == "unsigned" else "",
        pk=calibration.pk,
    )


def calibration_state_line(state: CalibrationState, day: dt.date) -> CalibrationLine:
    """The newest calibration of a quantity, with how long it still holds."""
    line = calibration_line(state.quantity, state.calibration, state.state)
    return dataclasses.replace(line, words=calibration_words(state, day))


def calibration_history(calibrations: Sequence[Calibration], day: dt.date) -> list[CalibrationLine]:
    """Every calibration of a rig, newest first within each quantity."""
    lines = []
    for quantity in CALIBRATED:
        ours = sorted((c for c in calibrations if c.quantity == quantity), key=lambda c: c.calibrated_on, reverse=True)
        newest = next((found for found in ours if found.is_signed and not found.is_struck), None)
        for calibration in ours:
            state = calibration_state(calibration, newest, day)
            lines.append(calibration_line(quantity, calibration, state))
    return lines


def calibration_state(calibration: Calibration, newest: Calibration | None, day: dt.date) -> str:
    """The state of a calibration; `newest` is the newest signed one of its quantity."""
    if calibration.is_struck:
        return "struck"
    if not calibration.is_signed:
        return "unsigned"
    if newest is not None and newest.pk != calibration.pk:
        return "replaced"
    return "in date" if calibration.due_on >= day else "overdue"


def certificate_lines(covering: Mapping[str, Calibration]) -> list[CalibrationLine]:
    """The calibrations that covered a test, in the order of the quantities; "missing" where none did."""
    return [
        calibration_line(quantity, covering.get(quantity), "in date" if quantity in covering else "missing")
        for quantity in CALIBRATED
    ]
