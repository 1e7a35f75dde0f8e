"""Conditions and calibrations against the protocol."""

from __future__ import annotations

from datetime import date

import pytest

from core.domain.units import to_si
from labtests.domain.files.header import Conditions
from labtests.domain.scores.protocol import (
    CALIBRATED,
    P1,
    CalibrationPeriod,
    Limit,
    Protocol,
    check_calibrations,
    check_conditions,
)

DAY = date(2026, 3, 4)


def conditions(hours=50.0, celsius=23.0, heel=444.8, forefoot=177.9):
    return Conditions(hours, celsius, heel, forefoot)


def test_nominal_conditions_are_accepted():
    assert check_conditions(P1, [conditions()]) == ()


@pytest.mark.parametrize(
    "given",
    [
        conditions(hours=48.0),
        conditions(celsius=to_si(77.0, "degF", quantity="temperature")),
        conditions(celsius=to_si(69.8, "degF", quantity="temperature")),
        conditions(heel=444.8 * 1.05, forefoot=177.9 * 0.95),
        conditions(heel=to_si(100.0, "lbf", quantity="force"), forefoot=to_si(40.0, "lbf", quantity="force")),
    ],
)
def test_limits_are_accepted_in_either_unit(given):
    assert check_conditions(P1, [given]) == ()


@pytest.mark.parametrize(
    ("given", "code", "message"),
    [
        (conditions(hours=47.99), "conditioned_h", "conditioning time is 47.99 h; accepted: at least 48 h"),
        (conditions(celsius=25.1), "temperature_c", "midsole temperature is 25.1 °C; accepted: 21 to 25 °C"),
        (conditions(heel=470), "heel_clamp_n", "heel clamp is 470 N; accepted: 422.56 to 467.04 N"),
        (conditions(forefoot=150), "forefoot_clamp_n", "forefoot clamp is 150 N; accepted: 169 to 186.79 N"),
    ],
)
def test_condition_outside_is_said_with_value_and_range(given, code, message):
    (reason,) = check_conditions(P1, [given])
    assert reason.code == code
    assert reason.message.startswith(message[:40])


def test_every_reason_is_listed_and_said_once():
    bad = conditions(hours=10, celsius=30, heel=1, forefoot=1)
    assert len(check_conditions(P1, [bad, bad, conditions()])) == 4


def test_limit_open_below_is_said_as_at_most():
    free = Limit(0.0, None, 5.0)
    protocol = Protocol("X", free, free, free, free)
    assert "accepted: at most 5 h" in check_conditions(protocol, [conditions(5.1, 1, 1, 1)])[0].message


def test_rig_in_date_on_the_day_is_accepted_with_both_ends():
    periods = [CalibrationPeriod(name, DAY, DAY) for name in CALIBRATED]
    assert check_calibrations(periods, rig="rig-1", on=DAY) == ()


@pytest.mark.parametrize(
    ("period", "words"),
    [
        (CalibrationPeriod("force", date(2025, 1, 1), date(2026, 3, 3)), "ran out on 2026-03-03"),
        (CalibrationPeriod("force", date(2026, 3, 5), date(2027, 3, 4)), "is missing"),
        (CalibrationPeriod("torque", DAY, DAY), "is missing"),
    ],
)
def test_quantity_not_in_date_is_named(period, words):
    (reason,) = check_calibrations([period], rig="rig-1", on=DAY, quantities=["force"])
    assert reason.code == "calibration_force"
    assert f"force calibration of rig rig-1 {words}" in reason.message
