"""Limits of curves and restricted mean times against published values."""

import numpy as np
import pytest
from lifelines import KaplanMeierFitter
from lifelines.datasets import load_lung
from lifelines.utils import restricted_mean_survival_time

from fittings.domain.outcomes.beta_product import beta_product_limits
from fittings.domain.outcomes.comparisons import difference_of, exact_share
from fittings.domain.outcomes.restricted_mean import as_estimate, restricted_mean
from fittings.domain.outcomes.visits import at_visits, visit_curve
from tests.reference.survival import kaplan_meier

TREATED = [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
RELAPSED = [True] * 9 + [False] * 12
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]


def test_beta_product_limits_of_four_events():
    """SV-01, printed in the vignette of the R package bpcp (PAGE)."""
    before, _ = beta_product_limits(np.array([4.0]), np.zeros(1), np.array([4.0]))
    assert before[0] == pytest.approx(0.397635364, abs=1e-9)
    curve = kaplan_meier([3, 7, 8, 14], [True] * 4)
    assert curve.low == pytest.approx([0.194120450, 0.067585986, 0.006309463, 0.0], abs=1e-8)
    assert curve.high == pytest.approx([0.9936905, 0.9324140, 0.8058796, 0.6023646], abs=1e-7)


@pytest.mark.parametrize(("n", "low"), [(5, 0.478176), (10, 0.691503), (20, 0.831567), (21, 0.838902), (30, 0.884297)])
def test_limits_before_any_event(n, low):
    """SV-02 (DEF): 0.025 to the power of 1/n; so the page never says "100 % (100 to 100)"."""
    curve = visit_curve(at_visits([6.0] * n, [np.inf] * n, [1] * n, (6,)), (6,))
    assert (curve.share[0], curve.low[0], curve.high[0]) == pytest.approx((1.0, low, 1.0), abs=1e-6)


def test_six_at_risk_and_no_recurrence_reach_down_to_54_percent():
    """The failing case of the issue."""
    curve = visit_curve(at_visits([6.0] * 6, [np.inf] * 6, [1] * 6, (6,)), (6,))
    assert curve.low[0] == pytest.approx(0.54, abs=5e-3)


def test_limits_of_the_treated_group():
    """SV-03 (DERIVED, moments; tolerance 1e-4)."""
    curve = kaplan_meier(TREATED, RELAPSED)
    assert (curve.low[0], curve.high[0]) == pytest.approx((0.631774, 0.969511), abs=1e-4)


@pytest.mark.parametrize(("events", "n"), [(0, 9), (3, 12), (9, 9), (1, 400)])
def test_limits_of_one_visit_are_the_exact_ones_of_a_share(events, n):
    curve = visit_curve(at_visits([0.0] * n, [6.0] * events + [np.inf] * (n - events), [1] * n, (6,)), (6,))
    if events == 0:
        curve = visit_curve(at_visits([6.0] * n, [np.inf] * n, [1] * n, (6,)), (6,))
    else:
        free = at_visits([0.0] * events + [6.0] * (n - events), [6.0] * events + [np.inf] * (n - events), [1] * n, (6,))
        curve = visit_curve(free, (6,))
    exact = exact_share(n - events, n)
    assert (curve.low[0], curve.high[0]) == pytest.approx((exact.low, exact.high), abs=1e-9)


def test_restricted_means_of_both_groups_and_their_difference():
    """SV-05 (DERIVED)."""
    treated = restricted_mean(kaplan_meier(TREATED, RELAPSED), 20)
    placebo = restricted_mean(kaplan_meier(PLACEBO, [True] * 21), 20)
    assert (treated.value, treated.standard_error) == pytest.approx((16.116527, 1.251560), abs=1e-6)
    assert (placebo.value, placebo.standard_error) == pytest.approx((8.428571, 1.268083), abs=1e-6)
    found = difference_of(as_estimate(treated), as_estimate(placebo))
    assert (found.value, found.low, found.high) == pytest.approx((7.687955, 4.195897, 11.180013), abs=2e-6)


@pytest.mark.parametrize(
    ("grade", "mean", "error"), [(0, 428.5833, 32.1571), (1, 366.2657, 22.4157), (2, 255.6205, 29.9562)]
)
def test_restricted_means_of_lung_patients(grade, mean, error):
    """SV-06, printed by R survival (PAGE: 429, 32.2; 366, 22.4; 256, 30.0)."""
    data = load_lung()
    data = data[data["ph.ecog"] == grade]
    found = restricted_mean(kaplan_meier(data["time"], data["status"] > 0), 730)
    assert (found.value, found.standard_error) == pytest.approx((mean, error), abs=1e-4)
    fitter = KaplanMeierFitter().fit(data["time"], data["status"] > 0)
    assert found.value == pytest.approx(restricted_mean_survival_time(fitter, t=730), rel=1e-6)
