"""A test evaluated: repeats, means, spread, and what could not be read."""

from __future__ import annotations

import numpy as np
import pytest

from labtests.domain.files.header import Conditions
from labtests.domain.files.readingsfile import RepeatReading
from labtests.domain.files.recorded_curve import RecordedCurve
from labtests.domain.scores.evaluation import evaluate_curves, evaluate_readings, summarise


def series(test, repeat, position, load, branch="loading"):
    return RecordedCurve(test, repeat, branch, np.array(position, dtype=float), np.array(load, dtype=float))


def torsion(repeat, at_15, to=15.0):
    return series("torsion", repeat, [0, to], [0, at_15])


def compression(repeat, mm):
    return series("compression", repeat, [0, mm], [5, 444.82216152605])


def test_means_and_spread_of_the_repeats():
    parts = [
        item for n, (t, d) in enumerate([(4, 6), (5, 7), (6, 8)], 1) for item in (torsion(n, t), compression(n, d))
    ]
    evaluation = evaluate_curves(parts)
    assert (evaluation.torque_15_nm.n, evaluation.torque_15_nm.mean, evaluation.torque_15_nm.sd) == (3, 5.0, 1.0)
    assert evaluation.deflection_mm.mean == pytest.approx(7.0)
    assert not evaluation.work_is_estimated
    assert evaluation.energy_return is None
    assert evaluation.reasons == ()


def test_unloading_gives_the_energy_return():
    back = series("compression", 1, [8, 0], [444.82216152605, 0], "unloading")
    evaluation = evaluate_curves([torsion(1, 5), series("compression", 1, [0, 8], [0, 444.82216152605]), back])
    assert evaluation.energy_return.mean == pytest.approx(1.0)


def test_short_curves_are_reasons_with_their_repeat():
    evaluation = evaluate_curves([torsion(1, 5, to=14), torsion(2, 5), series("compression", 1, [0, 8], [0, 300])])
    assert [(reason.code, reason.message[:9]) for reason in evaluation.reasons] == [
        ("torsion_short", "repeat 1:"),
        ("compression_short", "repeat 1:"),
    ]
    assert evaluation.torque_15_nm.n == 1
    assert evaluation.deflection_mm is None


def test_missing_tests_are_reasons():
    assert [reason.code for reason in evaluate_curves([torsion(1, 5)]).reasons] == ["compression_missing"]


def test_repeat_of_one_kind_alone_is_no_reason():
    evaluation = evaluate_curves([torsion(1, 5), compression(1, 7), compression(2, 7)])
    assert evaluation.reasons == ()
    assert [repeat.torque_15_nm is None for repeat in evaluation.repeats] == [False, True]


def test_readings_estimate_the_work():
    nominal = Conditions(50, 23, 444.8, 177.9)
    evaluation = evaluate_readings([RepeatReading(1, 4, 6, nominal), RepeatReading(2, 5, 8, nominal)])
    assert evaluation.work_is_estimated
    assert evaluation.work_j.mean == pytest.approx(0.5 * 444.82216152605 * 7 / 1000)
    assert evaluation.torque_15_nm.sd == pytest.approx(0.5**0.5)


def test_summary_of_one_value_has_no_spread_and_of_none_is_none():
    assert summarise([2.0]).sd is None
    assert summarise([None]) is None
