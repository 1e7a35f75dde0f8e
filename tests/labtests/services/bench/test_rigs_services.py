"""Rigs and calibrations: shape, rules and trail."""

from __future__ import annotations

import datetime as dt

import pytest

from core.audit import entries_of
from core.domain.errors import DomainError
from labtests import services

GOOD = {
    "quantity": "force",
    "certificate": "C-9",
    "calibrated_on": dt.date(2026, 1, 1),
    "due_on": dt.date(2026, 12, 31),
    "standard_uncertainty": 0.4,
    "resolution": 0.1,
}


def test_calibration_is_recorded_in_the_trail(lab):
    calibration = services.calibration_record(actor=lab.technician, rig=lab.rig, **GOOD)
    assert entries_of(calibration).get().action == "labtests.calibration.recorded"


@pytest.mark.parametrize(
    "change",
    [
        {"due_on": dt.date(2026, 1, 1)},
        {"standard_uncertainty": -0.1},
        {"resolution": -0.1},
        {"quantity": "colour"},
        {"certificate": ""},
        {"calibrated_on": dt.date(2025, 6, 1)},
    ],
)
def test_calibration_that_makes_no_sense_is_refused(lab, change):
    with pytest.raises(DomainError) as caught:
        services.calibration_record(actor=lab.technician, rig=lab.rig, **{**GOOD, **change})
    assert caught.value.status == 400


@pytest.mark.parametrize("code", ["", "a b", "../x", "rig-1"])
def test_rig_code_must_be_new_and_plain(lab, code):
    with pytest.raises(DomainError):
        services.rig_create(actor=lab.reviewer, code=code)


def test_rig_is_stopped_and_cleared_once_with_reasons(lab):
    rig = services.rig_stop(actor=lab.technician, rig=lab.rig, reason="drift")
    assert (rig.is_stopped, rig.stopped_because) == (True, "drift")
    with pytest.raises(DomainError, match="already stopped"):
        services.rig_stop(actor=lab.technician, rig=rig, reason="drift")
    with pytest.raises(DomainError, match="Give a reason"):
        services.rig_clear(actor=lab.reviewer, rig=rig, reason=" ")
    assert not services.rig_clear(actor=lab.reviewer, rig=rig, reason="repaired").is_stopped
    with pytest.raises(DomainError, match="not stopped"):
        services.rig_clear(actor=lab.reviewer, rig=rig, reason="repaired")
