"""What is odd about a test: signs, copies, a jump, a specimen that was gone."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest

from labtests.domain.curves.curves import Target
from labtests.domain.files.header import Conditions
from labtests.domain.files.readingsfile import RepeatReading
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores.evaluation import Repeat, evaluate_curves, evaluate_readings
from labtests.domain.scores.plausibility import (
    RECORDED_POINTS,
    LastResult,
    check_copies,
    check_jump,
    check_ranges,
    check_signs,
    check_still_there,
)

NOMINAL = Conditions(50.0, 23.0, 444.8, 177.9)
LAST = LastResult(7, dt.date(2026, 3, 1), 5.0, 6.0)


def torsion(repeat, *, sign=1.0, points=40, noise=0.0):
    angle = np.linspace(0.0, 16.0, points)
    return RecordedCurve("torsion", repeat, "loading", angle, sign * 0.3 * angle + noise * np.sin(angle))


def compression(repeat, *, sign=1.0, points=40):
    depth = np.linspace(0.0, 8.0, points)
    return RecordedCurve("compression", repeat, "loading", depth, sign * 70.0 * depth)


def readings(*pairs):
    return evaluate_readings([RepeatReading(number, *pair, NOMINAL) for number, pair in enumerate(pairs, start=1)])


def codes(reasons):
    return [reason.code for reason in reasons]


def test_torque_that_falls_with_the_angle_is_named_by_repeat():
    series = [torsion(1), torsion(2, sign=-1.0), compression(1), compression(2)]
    reasons = check_signs(series, evaluate_curves(series).repeats)
    assert codes(reasons) == ["sign_reversed"]
    assert "repeat 2: torque at 15° is −4.5 N·m" in reasons[0].message


def test_force_that_pulls_is_named():
    series = [torsion(1), compression(1, sign=-1.0)]
    reasons = check_signs(series, evaluate_curves(series).repeats)
    assert codes(reasons) == ["sign_reversed"]
    assert "the force falls to −560 N" in reasons[0].message


def test_sound_test_and_both_directions_are_not_odd():
    angle = np.linspace(-16.0, 16.0, 65)
    both = RecordedCurve("torsion", 1, "loading", angle, 0.3 * angle + 0.5)
    series = [both, compression(1)]
    assert check_signs(series, evaluate_curves(series).repeats) == ()


def test_recordings_that_agree_in_every_point_are_copies():
    series = [torsion(1), torsion(2), torsion(3, noise=1e-9)]
    reasons = check_copies(series)
    assert codes(reasons) == ["repeats_identical"]
    assert "repeats 1 and 2 of torsion" in reasons[0].message


def test_lines_of_a_few_points_may_agree():
    series = [torsion(n, points=RECORDED_POINTS - 1) for n in (1, 2, 3)]
    assert check_copies(series) == ()


@pytest.mark.parametrize(
    ("pair", "found"),
    [((5.0, 6.0), 0), ((6.25, 7.5), 0), ((6.26, 6.0), 1), ((3.74, 6.0), 1), ((6.3, 7.6), 2), ((3.75, 4.5), 0)],
)
def test_change_beyond_a_quarter_is_a_jump(pair, found):
    assert codes(check_jump(LAST, readings(pair))) == ["jump"] * found


def test_jump_names_the_last_result():
    message = check_jump(LAST, readings((7.5, 6.0)))[0].message
    assert "torque at 15° is 7.5 N·m" in message
    assert "test 7 of 2026-03-01, gave 5 N·m, a jump of +50 %" in message


@pytest.mark.parametrize(
    ("ranges", "found"),
    [
        ({}, 0),
        ({"torque": (0.0, 5.0), "displacement": (0.0, 6.0)}, 0),
        ({"torque": (0.0, 4.99)}, 1),
        ({"torque": (5.01, 20.0), "displacement": (0.0, 5.9)}, 2),
        ({"angle": (-15.0, 15.0), "force": (0.0, 440.0)}, 1),
        ({"temperature": (0.0, 1.0)}, 0),
    ],
)
def test_value_beyond_what_the_calibration_covers_is_named(ranges, found):
    reasons = check_ranges(ranges, readings((5.0, 6.0)), Target())
    assert codes(reasons) == ["outside_calibrated_range"] * found


def test_value_that_is_farthest_out_is_named():
    (reason,) = check_ranges({"torque": (0.0, 5.0)}, readings((5.2, 6.0), (5.6, 6.0), (4.9, 6.0)), Target())
    assert reason.message.startswith("torque went to 5.6 N·m; its calibration covers 0 to 5 N·m.")


def test_nothing_to_compare_with_is_no_jump():
    assert check_jump(None, readings((9.0, 1.0))) == ()
    assert check_jump(LastResult(7, dt.date(2026, 3, 1), None, 0.0), readings((9.0, 1.0))) == ()


def test_specimen_is_still_there_on_its_last_day():
    day = dt.date(2026, 3, 4)
    assert check_still_there(None, day) == check_still_there(day, day) == ()
    assert codes(check_still_there(day, dt.date(2026, 3, 5))) == ["specimen_disposed"]


def test_reason_names_the_angle_that_the_protocol_twists_to():
    (reason,) = check_signs([], [Repeat(1, torque_15_nm=-5.0)], target=Target(angle_deg=12.0))
    assert "repeat 1: torque at 12° is −5 N·m" in reason.message
