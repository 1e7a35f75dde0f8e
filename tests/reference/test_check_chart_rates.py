"""The stated rates of the check charts: the simulation gives them, and its chart signals where the product's does."""

import numpy as np
import pytest

from labtests.domain.studies.check_chart import FALSE_ALARMS, NOTICED_WITHIN, check_chart
from tests.reference.check_chart_rates import Chart, alarms_in_first_years, checks_until_noticed


def alarms_of_product(values):
    """Checks at which the product's chart raises an alarm, each cleared before the next check."""
    alarms, cleared = [], set()
    for n in range(1, len(values) + 1):
        fresh = check_chart(values[:n], excluded=cleared).breaches
        if fresh:
            alarms.append(n - 1)
            cleared |= {point for breach in fresh for point in breach.points}
    return alarms


def test_the_simulated_chart_signals_where_the_product_does():
    rng = np.random.default_rng(77)
    n_alarms = 0
    for _ in range(12):
        values = rng.normal(size=70).tolist()
        chart = Chart()
        alarms = [place for place, value in enumerate(values) if chart.add(value)]
        # Clearing moves limits, after which the product may name an older pattern; up to the first both are equal.
        assert alarms[:1] == alarms_of_product(values)[:1]
        n_alarms += len(alarms)
    assert n_alarms > 10


def test_the_stated_rate_of_false_alarms():
    counts = alarms_in_first_years(400, np.random.default_rng(5))[:, 0]
    assert counts.mean() == pytest.approx(FALSE_ALARMS.mean, rel=0.15)
    assert np.median(counts) == pytest.approx(FALSE_ALARMS.half_below, abs=2)
    low, high = np.quantile(counts, [0.05, 0.95])
    assert low == pytest.approx(FALSE_ALARMS.one_in_twenty_below, abs=1)
    assert high == pytest.approx(FALSE_ALARMS.one_in_twenty_above, abs=12)


@pytest.mark.parametrize("shift", [1.0, 2.0, 3.0])
def test_the_stated_time_to_notice_a_shift(shift):
    waited = checks_until_noticed(shift, 600, np.random.default_rng(6))
    assert np.quantile(waited, 0.8) == pytest.approx(NOTICED_WITHIN[shift], abs=2 if shift == 1.0 else 1)
