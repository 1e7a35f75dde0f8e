"""± U covers the true score 19 times in 20, whatever the number of specimens: a small run of the bench."""

import numpy as np
import pytest

from bench.coverage import HIGH, LOW, SPREADS, simulate


@pytest.mark.parametrize("spread", SPREADS)
def test_u_covers_the_true_score_as_often_as_it_says(spread):
    for line in simulate(spread, 60, np.random.default_rng(7)):
        assert LOW <= line.share <= HIGH, line
