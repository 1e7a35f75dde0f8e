"""ICC, SEM and MDC of anxiety ratings of twenty people by three raters.

Data: R package irr, `anxiety` (PKG). Printed by the package: ICC(2,1) 0.198, 95 % -0.039 to 0.494, F(19, 39.7) (PAGE).
RL-01 of the list of check values; the rest of it is calculated from the same data (DERIVED).
"""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from statsmodels.formula.api import ols

from fittings.domain.outcomes.reliability import reliability

RATED = "332 361 344 464 523 542 221 346 531 231 221 632 133 533 221 221 113 233 432 342"
ANXIETY = [[int(digit) for digit in person] for person in RATED.split()]


def test_mean_squares_and_correlations_are_as_published():
    found = reliability(ANXIETY)
    assert (found.n, found.raters) == (20, 3)
    squares = (found.between_people, found.between_raters, found.residual)
    assert squares == pytest.approx((2.645614, 4.816667, 1.448246), abs=5e-7)
    assert found.one_way.value == pytest.approx(0.175022, abs=5e-7)
    two = (found.two_way.value, found.two_way.low, found.two_way.high)
    assert two == pytest.approx((0.197998, -0.038911, 0.493574), abs=5e-7)
    three = (found.consistency.value, found.consistency.low, found.consistency.high)
    assert three == pytest.approx((0.216049, -0.046258, 0.522259), abs=5e-7)


def test_errors_of_measurement_and_detectable_changes():
    found = reliability(ANXIETY)
    assert (found.sem_consistency.value, found.sem_agreement.value) == pytest.approx((1.203431, 1.271482), abs=5e-7)
    assert (found.mdc_consistency, found.mdc_agreement) == pytest.approx((3.335679, 3.524304), abs=5e-7)


def test_mean_squares_are_those_of_statsmodels():
    rng = np.random.default_rng(11)
    table = rng.normal(8, 3, (25, 1)) + rng.normal(0, 1, (25, 4)) + [0, 0.5, -0.4, 0.1]
    long = pd.DataFrame(table).stack().rename_axis(["person", "rater"]).reset_index(name="value")
    anova = sm.stats.anova_lm(ols("value ~ C(person) + C(rater)", long).fit())
    found = reliability(table)
    expected = anova["mean_sq"].tolist()
    assert (found.between_people, found.between_raters, found.residual) == pytest.approx(expected)
