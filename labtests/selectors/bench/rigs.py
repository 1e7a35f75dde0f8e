"""Rigs with the state of their calibrations."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.http import Http404

from labtests.models import CalibratedQuantity, Calibration, Rig
from labtests.models.rigs import calibrations_on

DUE_SOON = dt.timedelta(days=30)


@dataclass(frozen=True, slots=True)
class CalibrationState:
    """The state of one quantity of a rig on a day; `calibration` is its newest, None where it has none."""

    quantity: str
    calibration: Calibration | None
    state: str


@dataclass(frozen=True, slots=True)
class RigState:
    """A rig with each of its quantities."""

    rig: Rig
    quantities: tuple[CalibrationState, ...]

    @property
    def wants_attention(self) -> bool:
        return self.rig.is_stopped or any(quantity.state != "in date" for quantity in self.quantities)


def rig_states(day: dt.date) -> list[RigState]:
    rigs = Rig.objects.prefetch_related("calibrations")
    return [RigState(rig, tuple(_quantity_states(rig, day))) for rig in rigs]


def rig_get(code: str) -> Rig:
    rig = Rig.objects.prefetch_related("calibrations").filter(code=code).first()
    if rig is None:
        raise Http404
    return rig


def rig_state(rig: Rig, day: dt.date) -> RigState:
    return RigState(rig, tuple(_quantity_states(rig, day)))


def _quantity_states(rig: Rig, day: dt.date) -> list[CalibrationState]:
    known = [found for found in rig.calibrations.all() if not found.is_struck]
    return [_quantity_state(quantity, known, day) for quantity in CalibratedQuantity.values]


def _quantity_state(quantity: str, known: list[Calibration], day: dt.date) -> CalibrationState:
    ours = sorted(
        (found for found in known if found.quantity == quantity), key=lambda found: (found.calibrated_on, found.pk)
    )
    counting = calibrations_on(ours, day).get(quantity)
    if counting is not None and not counting.is_signed:
        return CalibrationState(quantity, counting, "unsigned")
    # One that begins later does not cover the day yet; it is used only where there is no other.
    begun = [found for found in ours if found.calibrated_on <= day and found.is_signed]
    newest = counting or next(iter([*reversed(begun), *ours]), None)
    return CalibrationState(quantity, newest, _calibration_state(newest, day))


def _calibration_state(calibration: Calibration | None, day: dt.date) -> str:
    if calibration is None or calibration.calibrated_on > day:
        return "missing"
    if calibration.due_on < day:
        return "overdue"
    return "due soon" if calibration.due_on - day <= DUE_SOON else "in date"
