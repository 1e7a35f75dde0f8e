"""Exact Poisson limits and rates against published values and an independent program."""

import pytest
from statsmodels.stats.rates import confint_poisson

from fittings.domain.outcomes.rates import poisson_interval, rate_per_1000_km

# Garwood 1936, 95 % limits. PAGE for x = 0 (3.689) and x = 25 (16.18, 36.90); the others follow from the definition
# (DEF).
GARWOOD = [
    (0, 0, 3.688879), (1, 0.025318, 5.571643), (2, 0.242209, 7.224688), (3, 0.618672, 8.767273),
    (4, 1.089865, 10.241589),
    (5, 1.623486, 11.668332), (6, 2.201894, 13.059474), (7, 2.814363, 14.422675), (8, 3.453832, 15.763189),
    (9, 4.115373, 17.084803), (10, 4.795389, 18.390356), (20, 12.216520, 30.888378), (25, 16.178682, 36.904932),
    (50, 37.110964, 65.918767), (100, 81.363991, 121.626794),
]  # fmt: skip


@pytest.mark.parametrize(("events", "low", "high"), GARWOOD)
def test_exact_poisson_limits(events, low, high):
    assert poisson_interval(events) == pytest.approx((low, high), abs=1e-6)


@pytest.mark.parametrize(("confidence", "low", "high"), [(0.90, 17.38, 34.92), (0.99, 14.00, 41.00)])
def test_exact_poisson_limits_at_other_levels(confidence, low, high):
    """Garwood 1936 for 25 events, PAGE, printed to two decimals."""
    assert poisson_interval(25, confidence) == pytest.approx((low, high), abs=5e-3)


def test_one_sided_limit_for_no_event_is_another_number():
    """Rule of three: 2.996 one-sided, 3.689 two-sided (PAGE)."""
    assert poisson_interval(0, 0.90)[1] == pytest.approx(2.995732, abs=1e-6)


def test_rate_of_ten_events_in_2500():
    """Ten injuries in 2500 h give 4.0 per 1000 h, 1.918155 to 7.356142 (DERIVED); distance takes the place of hours."""
    rate = rate_per_1000_km(10, 2500)
    assert (rate.per_1000_km, rate.low, rate.high) == pytest.approx((4.0, 1.918155, 7.356142), abs=1e-6)


@pytest.mark.parametrize("events", [0, 1, 7, 33, 250])
def test_limits_agree_with_an_independent_program(events):
    low, high = confint_poisson(events, 1, method="exact-c")
    assert poisson_interval(events) == pytest.approx((0 if events == 0 else low, high), rel=1e-9)
