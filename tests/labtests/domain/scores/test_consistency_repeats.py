"""Repeats that disagree hold a test: one far off, a drift, more scatter than the rig usually has."""

from __future__ import annotations

import numpy as np
import pytest

from labtests.domain.scores.consistency import check_consistency, grubbs_p, trend_p
from labtests.domain.scores.evaluation import Evaluation, Repeat, summarise
from labtests.domain.scores.scoring import S1
from labtests.domain.uncertainty.scatter import Scatter

RIG = Scatter(0.02**2, 0.02**2, 1e-4, 0.0, 60.0, "repeats, pooled history of the rig")


def evaluation_of(torques, deflections=None):
    deflections = deflections or [6.0] * len(torques)
    repeats = tuple(
        Repeat(number, torque_15_nm=t, deflection_mm=d, work_j=1.3)
        for number, (t, d) in enumerate(zip(torques, deflections, strict=True), start=1)
    )
    columns = ([getattr(one, name) for one in repeats] for name in ("torque_15_nm", "deflection_mm", "work_j"))
    return Evaluation(repeats, *map(summarise, columns), None, False, ())


def codes(torques, deflections=None, pooled=RIG):
    return [reason.code for reason in check_consistency(evaluation_of(torques, deflections), pooled, S1)]


def test_repeats_that_agree_hold_nothing():
    assert codes([5.10, 5.13, 5.11]) == []
    assert codes([5.10] * 3) == []
    assert codes([]) == []


def test_one_repeat_far_from_the_others_is_named():
    (reason,) = check_consistency(evaluation_of([5.10, 5.11, 7.30]), None, S1)
    assert reason.code == "repeat_outlier"
    assert "repeat 3" in reason.message
    assert "7.3 N·m" in reason.message


def test_deflection_is_looked_at_too():
    assert codes([5.1] * 4, [6.0, 6.01, 8.2, 6.02]) == ["repeat_outlier"]


def test_a_steady_drift_is_named():
    assert codes([5.00, 5.13, 5.26]) == ["repeat_trend"]
    assert codes([5.00, 5.13, 5.26], pooled=None) == []
    assert codes([5.0, 5.1, 5.21, 5.29, 5.4], pooled=None) == ["repeat_trend"]


def test_more_scatter_than_the_rig_usually_has_is_named():
    assert codes([5.10, 5.36, 5.16]) == ["repeat_scatter"]
    assert codes([5.10, 5.36, 5.16], pooled=None) == []


def test_what_is_too_small_to_matter_holds_nothing():
    # Far beyond chance, but under 2.5 points of midfoot.
    assert codes([5.100, 5.101, 5.280]) == []


def test_a_pool_of_few_tests_is_not_believed():
    few = Scatter(0.02**2, 0.02**2, 1e-4, 0.0, 4.0, "repeats, pooled history of the rig")
    assert codes([5.10, 5.36, 5.16], pooled=few) == []


def test_equal_values_are_neither_outlier_nor_trend():
    same = np.array([5.0, 5.0, 5.0])
    assert (grubbs_p(same), trend_p(same)) == (1.0, 1.0)


def test_two_values_have_no_outlier():
    with pytest.raises(ValueError, match="values must be ≥ 3"):
        grubbs_p(np.array([1.0, 2.0]))


def test_tests_are_rarely_held_by_chance():
    rng = np.random.default_rng(5)
    held = sum(bool(codes(list(rng.normal(5.1, 0.1, 3)), list(rng.normal(6.0, 0.07, 3)), ROUGH)) for _ in range(2000))
    # Three checks of two readings at 1 % each.
    assert held / 2000 < 0.06


ROUGH = Scatter(0.1**2, 0.07**2, 1e-4, 0.0, 200.0, "repeats, pooled history of the rig")
