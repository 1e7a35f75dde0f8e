"""Turnbull estimate and log-rank test of intervals against the breast cosmesis data, and against two programs.

Data: Finkelstein and Wolfe 1985, Biometrics 41:933, as in the R package interval (PKG); masses and |Z| PAGE.
"""

import numpy as np
import pytest
from lifelines import KaplanMeierFitter

from fittings.domain.outcomes.onset import free_at, onset_test, onsets, turnbull
from tests.reference.survival import kaplan_meier

RADIATION = (
    "45- 6-10 0-7 46- 46- 7-16 17- 7-14 37-44 0-8 4-11 15- 11-15 22- 46- 46- 25-37 46- 26-40 46- 27-34 36-44 46- 36-48 "
    "37- 40- 17-25 46- 11-18 38- 5-12 37- 0-5 18- 24- 36- 5-11 19-35 17-25 24- 32- 33- 19-26 37- 34- 36-"
)
BOTH = (
    "8-12 0-22 24-31 17-27 17-23 24-30 16-24 13- 11-13 16-20 18-25 17-26 32- 23- 44-48 14-17 0-5 5-8 12-20 11- 33-40 "
    "31- 13-39 19-32 34- 13- 16-24 35- 15-22 11-17 22-32 10-35 30-34 13- 10-17 8-21 4-9 11- 14-19 4-8 34- 30-36 18-24 "
    "16-60 35-39 21- 11-20 48-"
)


def read(text):
    pairs = [word.split("-") for word in text.split()]
    return onsets([float(left) for left, _ in pairs], [float(right or "inf") for _, right in pairs])


def test_masses_of_the_radiation_group():
    """IV-01."""
    curve = turnbull(read(RADIATION))
    seen = curve.mass > 1e-4
    ends = list(zip(curve.start[seen].tolist(), curve.end[seen].tolist(), strict=True))
    assert ends == [(4, 5), (6, 7), (7, 8), (11, 12), (24, 25), (33, 34), (38, 40), (46, 48)]
    printed = [0.0463, 0.0334, 0.0887, 0.0708, 0.0926, 0.0818, 0.1209, 0.4656]
    assert curve.mass[seen] == pytest.approx(printed, abs=1e-4)
    assert free_at(curve, [5])[0] == pytest.approx(0.9537, abs=1e-4)
    assert (curve.n, curve.settled) == (46, True)


def test_log_rank_of_both_groups():
    """IV-02."""
    found = onset_test([read(RADIATION), read(BOTH)])
    assert np.sqrt(found.chi_squared) == pytest.approx(2.683896, abs=1e-6)
    assert found.p == pytest.approx(0.007277, abs=1e-6)
    assert found.scores[1] == pytest.approx(9.944182, abs=1e-5)


@pytest.mark.parametrize("seed", range(3))
def test_masses_agree_with_an_independent_program(seed):
    draw = np.random.default_rng(seed)
    left = draw.integers(0, 12, 80)
    right = np.where(draw.random(80) < 0.3, np.inf, left + draw.integers(1, 9, 80))
    curve = turnbull(onsets(left, right))
    # It takes intervals with both ends; ours are without the left one.
    other = KaplanMeierFitter().fit_interval_censoring(left + 0.01, np.where(np.isinf(right), 1e9, right), tol=1e-9)
    steps = curve.end[np.isfinite(curve.end)]
    upper = other.survival_function_.iloc[:, -1]
    assert free_at(curve, steps) == pytest.approx([float(upper[upper.index <= t].iloc[-1]) for t in steps], abs=1e-3)


def test_known_moments_give_the_curve_of_kaplan_and_meier():
    """6-MP remission data, Freireich et al. 1963 (PKG)."""
    time = np.array([6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35], dtype=float)
    event = np.arange(21) < 9
    expected = kaplan_meier(time, event)
    curve = turnbull(onsets(time, np.where(event, time, np.inf)))
    assert free_at(curve, expected.time) == pytest.approx(expected.survival, abs=1e-9)
