"""Propagation of distributions against the worked examples of JCGM 101:2008 and the GUM. All values MEM."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import t

from labtests.domain.curves.curve_draws import Response
from labtests.domain.scores.scoring import S1
from labtests.domain.uncertainty.monte_carlo import Inputs, Normal, Rectangular, simulate_scores
from tests.reference.distributions import propagate

DRAWS = 400_000


def total(*inputs):
    return sum(inputs)


def test_four_normal_inputs():
    """JCGM 101, 9.2.2: X1 … X4 normal with u = 1: y 0, u 2.0, 95 % interval -3.92 to 3.92. MEM; exact by definition."""
    found = propagate([Normal(0.0, 1.0)] * 4, total, draws=DRAWS, rng=np.random.default_rng(1))
    assert found.u == pytest.approx(2.0, abs=0.01)
    assert (found.low, found.high) == (pytest.approx(-3.92, abs=0.03), pytest.approx(3.92, abs=0.03))


def test_four_rectangular_inputs():
    """JCGM 101, 9.2.3: rectangular with u = 1: u 2.0, 95 % interval -3.88 to 3.88 (narrower than the GUM's). MEM."""
    found = propagate([Rectangular(0.0, math.sqrt(3.0))] * 4, total, draws=DRAWS, rng=np.random.default_rng(2))
    assert found.u == pytest.approx(2.0, abs=0.01)
    assert (found.low, found.high) == (pytest.approx(-3.88, abs=0.03), pytest.approx(3.88, abs=0.03))


def test_four_rectangular_inputs_of_different_width():
    """JCGM 101, 9.2.4: as before, X4 with u = 10: u 10.1, 95 % interval -17.0 to 17.0 where the GUM has ±19.9. MEM."""
    inputs = [*[Rectangular(0.0, math.sqrt(3.0))] * 3, Rectangular(0.0, 10.0 * math.sqrt(3.0))]
    found = propagate(inputs, total, draws=DRAWS, rng=np.random.default_rng(3))
    assert found.u == pytest.approx(10.1, abs=0.06)
    assert (found.low, found.high) == (pytest.approx(-17.0, abs=0.12), pytest.approx(17.0, abs=0.12))


def test_mass_calibration_where_first_order_is_not_enough():
    """JCGM 101, 9.3: δm 1.2341 mg, u 0.0754 mg, 95 % interval 1.0834 to 1.3825 mg; first order u 0.0539 mg. MEM."""

    def deviation(reference, correction, air, weight, standard):
        buoyancy = (air - 1.2) * (1.0 / weight - 1.0 / standard)
        return (reference + correction) * (1.0 + buoyancy) - 100_000.0

    inputs = [
        Normal(100_000.0, 0.050),
        Normal(1.234, 0.020),
        Rectangular(1.20, 0.10),
        Rectangular(8000.0, 1000.0),
        Rectangular(8000.0, 50.0),
    ]
    found = propagate(inputs, deviation, draws=DRAWS, rng=np.random.default_rng(4))
    assert found.mean == pytest.approx(1.2341, abs=0.0005)
    assert found.u == pytest.approx(0.0754, abs=0.0004)
    assert (found.low, found.high) == (pytest.approx(1.0834, abs=0.002), pytest.approx(1.3825, abs=0.002))


@pytest.mark.parametrize(("repeats", "ratio"), [(10, math.sqrt(9 / 7)), (30, math.sqrt(29 / 27))])
def test_mean_of_few_readings_is_a_scaled_and_shifted_t(repeats, ratio):
    """JCGM 101, 6.4.9.4: u of a mean of n is √((n - 1)/(n - 3)) s/√n; the interval is Student's. MEM; DEF."""
    s_nm = 0.05
    exact = Response(lambda angle: 5.0 + 0.0 * angle, lambda contact, end: (6.0 + 0.0 * contact, 1.4 + 0.0 * end))
    inputs = Inputs(np.array([5.0, 6.0, 1.4]), np.diag([s_nm**2 / repeats, 0.0, 0.0]), repeats - 1.0, {})
    found = simulate_scores(exact, inputs, model=S1, draws=DRAWS, rng=np.random.default_rng(6))["midfoot"]
    per_nm = 100.0 / S1.torque_100_nm
    assert found.u == pytest.approx(per_nm * ratio * s_nm / math.sqrt(repeats), rel=0.01)
    wanted = per_nm * t.ppf(0.975, repeats - 1) * s_nm / math.sqrt(repeats)
    assert found.half_width == pytest.approx(wanted, rel=0.01)
    assert found.mean == pytest.approx(per_nm * 5.0, abs=0.005)


def test_gum_h1_end_gauge_by_simulation():
    """GUM H.1: the four leading terms, taken normal, give u 31.7 nm as the first order does. Inputs PAGE, see there."""
    inputs = [
        Normal(0.0, 25.0),
        Normal(0.0, math.sqrt(5.8**2 + 3.9**2 + 6.7**2)),
        Normal(0.0, 1e-6 / math.sqrt(3.0)),
        Normal(0.0, 0.05 / math.sqrt(3.0)),
    ]
    length_nm, expansion = 50.000623e6, 11.5e-6

    def length(standard, difference, of_expansion, of_temperature):
        return length_nm + standard + difference + length_nm * (0.1 * of_expansion - expansion * of_temperature)

    found = propagate(inputs, length, draws=DRAWS, rng=np.random.default_rng(5))
    assert found.u == pytest.approx(31.6638, rel=0.01)
