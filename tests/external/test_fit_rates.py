"""Exact Poisson limits, rates and 2×2 tables against published values and an independent program."""

import pytest
from scipy.stats.contingency import relative_risk
from statsmodels.stats.contingency_tables import Table2x2
from statsmodels.stats.proportion import confint_proportions_2indep
from statsmodels.stats.rates import confint_poisson

from fittings.domain.outcomes.rates import compare_risks, poisson_interval, rate_per_1000_km

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


def test_aspirin_and_heart_attack():
    """T-01: 189/11034 against 104/11037, Agresti, Categorical Data Analysis, Table 2.3 (MEM: 1.82; 0.005 to 0.011)."""
    found = compare_risks((189, 104), (11034, 11037))
    ratio, difference = found.ratio, found.difference
    assert (ratio.value, ratio.low, ratio.high) == pytest.approx((1.817802, 1.433031, 2.305884), abs=1e-6)
    assert (difference.value, difference.low, difference.high) == pytest.approx(
        (0.00770602, 0.00468775, 0.01072430), abs=1e-7
    )
    assert not found.too_few


def test_aspirin_final_report_crude_ratio_is_not_the_adjusted_one():
    """T-02: 139/11037 against 239/11034 (counts MEM); the paper's 0.56 is adjusted (PAGE), not to come out here."""
    found = compare_risks((139, 239), (11037, 11034))
    assert (found.ratio.value, found.ratio.low, found.ratio.high) == pytest.approx(
        (0.581432, 0.472528, 0.715435), abs=1e-6
    )
    assert found.difference.value == pytest.approx(-0.00906632, abs=1e-8)


def test_hard_against_soft_shoes():
    """T-03: 74/420 against 54/428, counts of Malisoux 2020 (PAGE), ratio DERIVED.

    The derived row (1.010068 to 1.930698) was worked with z rounded to 1.96, which moves the limits by up to 1.2e-5;
    with the unrounded z two programs agree on what is asserted tightly here.
    """
    ratio = compare_risks((74, 54), (420, 428)).ratio
    assert ratio.value == pytest.approx(1.396473, abs=1e-6)
    assert (ratio.low, ratio.high) == pytest.approx((1.010068, 1.930698), abs=1.3e-5)
    other = relative_risk(74, 420, 54, 428).confidence_interval()
    assert (ratio.low, ratio.high) == pytest.approx((other.low, other.high), rel=1e-12)


def test_no_event_in_a_group_is_not_estimable():
    """CHECKS 5.4: 0/20 against 3/20 has no interval on the log scale (DEF)."""
    assert compare_risks((0, 3), (20, 20)).ratio.value is None


@pytest.mark.parametrize(("events", "people"), [((12, 30), (80, 95)), ((1, 2), (9, 7)), ((40, 11), (300, 41))])
def test_comparison_agrees_with_an_independent_program(events, people):
    found = compare_risks(events, people)
    table = Table2x2([[events[0], people[0] - events[0]], [events[1], people[1] - events[1]]])
    low, high = table.riskratio_confint()
    assert (found.ratio.value, found.ratio.low, found.ratio.high) == pytest.approx(
        (table.riskratio, low, high), rel=1e-9
    )
    wald = confint_proportions_2indep(events[0], people[0], events[1], people[1], compare="diff", method="wald")
    assert (found.difference.low, found.difference.high) == pytest.approx(wald, abs=1e-9)
