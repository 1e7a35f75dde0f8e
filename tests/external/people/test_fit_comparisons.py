"""Shares, their differences and ratios, and exact ratios of rates against published values and independent programs."""

import numpy as np
import pytest
from scipy.stats import binomtest
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint
from statsmodels.stats.rates import confint_poisson_2indep

from fittings.domain.outcomes.comparisons import (
    Estimate,
    difference_of,
    exact_share,
    rate_ratio,
    ratio_of,
)
from tests.reference.score_share import score_share


@pytest.mark.parametrize(
    ("events", "exposure", "ratio", "low", "high", "p"),
    [
        ((11, 21), (800, 3011), 1.971488, 0.8584264, 4.2772659, 0.112017),  # RX-01, PAGE
        ((2, 9), (17877, 16660), 0.207094, 0.02177406, 1.00054910, 0.0501065),  # RX-02, PAGE
        ((60, 30), (51477.5, 54308.7), 2.109998, 1.3397357, 3.3883656, 0.000856),  # RX-03, PKG
        ((0, 5), (1000, 1000), 0.0, 0.0, 1.091279, 0.0625),  # RX-04, DEF
    ],
)
def test_ratio_of_rates_with_the_exact_interval_and_the_p_that_agrees_with_it(events, exposure, ratio, low, high, p):
    found = rate_ratio(events, exposure)
    assert (found.value, found.low, found.high) == pytest.approx((ratio, low, high), abs=1e-6)
    assert found.p == pytest.approx(p, abs=1e-6)
    assert (found.p < 0.05) == (not found.low <= 1 <= found.high)


@pytest.mark.parametrize(("events", "exposure"), [((14, 7), (90.5, 120.0)), ((3, 22), (55.0, 80.0)), ((1, 1), (2, 9))])
def test_ratio_of_rates_agrees_with_two_independent_programs(events, exposure):
    found = rate_ratio(events, exposure)
    score = confint_poisson_2indep(*[x for pair in zip(events, exposure, strict=True) for x in pair], method="score")
    assert found.low < score[0]
    assert score[1] < found.high
    share = exposure[0] / sum(exposure)
    limits = binomtest(events[0], sum(events), share).proportion_ci(method="exact")
    scale = exposure[1] / exposure[0]
    assert found.low == pytest.approx(limits.low / (1 - limits.low) * scale, rel=1e-9)
    assert found.high == pytest.approx(limits.high / (1 - limits.high) * scale, rel=1e-9)


@pytest.mark.parametrize(
    ("events", "people", "exact", "score"),
    [
        # CHECKS_SECOND 17: 682/925 MEM (print of an R example), the others DEF.
        (682, 925, (0.7076683, 0.7654066), (0.707996, 0.764636)),
        (0, 10, (0.0, 0.308497), (0.0, 0.277533)),
        (3, 50, (0.012549, 0.165482), (0.020615, 0.162171)),
    ],
)
def test_limits_of_a_share(events, people, exact, score):
    found = exact_share(events, people)
    assert (found.low, found.high) == pytest.approx(exact, abs=1e-6)
    found = score_share(events, people)
    assert (found.low, found.high) == pytest.approx(score, abs=1e-6)


@pytest.mark.parametrize(("events", "people"), [(0, 3), (4, 4), (7, 31), (500, 501)])
def test_limits_of_a_share_agree_with_an_independent_program(events, people):
    for found, method in ((exact_share(events, people), "beta"), (score_share(events, people), "wilson")):
        assert (found.low, found.high) == pytest.approx(proportion_confint(events, people, method=method), abs=1e-9)


@pytest.mark.parametrize(
    ("first", "second", "low", "high"),
    [
        # Newcombe 1998, Stat Med 17:873, method 10; PB-a, PB-c, PB-f, PB-h MEM, PB-d and PB-i PKG.
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((6, 7), (2, 7), 0.0582, 0.8062),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 10), -0.2775, 0.2775),
        ((10, 10), (0, 10), 0.6075, 1.0),
        ((7, 34), (1, 34), 0.0189, 0.3404),
    ],
)
def test_difference_of_two_shares(first, second, low, high):
    found = difference_of(score_share(*first), score_share(*second))
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-5)
    other = confint_proportions_2indep(*first, *second, compare="diff", method="newcomb")
    assert (found.low, found.high) == pytest.approx(other, abs=1e-9)


def test_twenty_of_twenty_against_twenty_of_twenty_has_a_width():
    """The failing case of the issue: both all alike."""
    for share in (score_share, exact_share):
        found = difference_of(share(20, 20), share(20, 20))
        assert found.value == 0.0
        assert found.high - found.low > 0.3


def test_difference_of_two_curves_at_one_time():
    """SV-04: 6-MP less placebo at 20 weeks, Greenwood's standard errors (DERIVED)."""
    one, other = ((0.627451, 0.114054), (0.095238, 0.064056))
    sides = [Estimate(s, s - 1.959964 * e, s + 1.959964 * e, "") for s, e in (one, other)]
    found = difference_of(*sides)
    assert (found.value, found.low, found.high) == pytest.approx((0.532213, 0.275828, 0.788598), abs=2e-6)


@pytest.mark.parametrize(
    ("first", "second", "ratio", "low", "high"),
    [
        # T-01, Agresti, Categorical Data Analysis, Table 2.3, and T-02: counts MEM; T-03 Malisoux 2020: PAGE.
        ((189, 11034), (104, 11037), 1.817802, 1.433031, 2.305884),
        ((139, 11037), (239, 11034), 0.581432, 0.472528, 0.715435),
        ((74, 420), (54, 428), 1.396473, 1.010068, 1.930698),
    ],
)
def test_ratio_of_risks_with_limits_on_the_log_scale(first, second, ratio, low, high):
    """With the normal limits of each risk on the log scale the limits of the ratio are those of Katz 1978."""
    sides = []
    for events, people in (first, second):
        reach = np.exp(1.959964 * np.sqrt(1 / events - 1 / people))
        sides.append(Estimate(events / people, events / people / reach, events / people * reach, ""))
    found = ratio_of(*sides)
    assert (found.value, found.low, found.high) == pytest.approx((ratio, low, high), abs=1.3e-5)
    exact = ratio_of(exact_share(*first), exact_share(*second))
    assert (exact.low, exact.high) == pytest.approx((low, high), rel=0.02)
