"""Straight lines against NIST certified values and independent programs."""

from pathlib import Path

import numpy as np
import pytest
import scipy.stats
import statsmodels.api as sm

from labtests.domain.scores.model_fit import ReferenceShoe, fit_model
from labtests.domain.scores.scoring import S1
from labtests.domain.studies.linear_fit import fit_line, predict
from labtests.domain.studies.wear import Leaving, wear_trend

# CHECKS 3.7: NIST StRD, linear regression, Norris, as (y, x); typed here in case SciPy comes without its test data.
NORRIS = """
0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6 778.9 777.0
559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0 228.3 228.1
998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0 778.9 779.0
10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5
"""
NORRIS_FILE = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_linregress" / "Norris.dat"


@pytest.fixture(scope="module")
def norris():
    y, x = np.array(NORRIS.split(), dtype=float).reshape(36, 2).T
    return fit_line(x, y)


@pytest.mark.skipif(not NORRIS_FILE.exists(), reason="SciPy is installed without its test data")
def test_typed_readings_are_those_of_the_file():
    rows = [line.split() for line in NORRIS_FILE.read_text().split("Data:")[-1].splitlines()[1:] if line.strip()]
    assert np.array(rows, dtype=float).ravel().tolist() == [float(value) for value in NORRIS.split()]


def test_norris_parameters(norris):
    """CHECKS 3.7 (PKG), tolerance 1e-10."""
    assert norris.n == 36
    assert norris.intercept == pytest.approx(-0.262323073774029, abs=1e-10)
    assert norris.intercept_se == pytest.approx(0.232818234301152, abs=1e-10)
    assert norris.slope == pytest.approx(1.00211681802045, abs=1e-12)
    assert norris.slope_se == pytest.approx(0.429796848199937e-03, abs=1e-12)


def test_norris_scatter(norris):
    """CHECKS 3.7 (PKG)."""
    assert norris.residual_sd == pytest.approx(0.884796396144373, abs=1e-10)
    assert norris.residual_sd**2 == pytest.approx(0.782864662630069, abs=1e-10)
    assert norris.r_squared == pytest.approx(0.999993745883712, abs=1e-13)
    regression = norris.slope**2 * norris.sum_of_squares_x
    assert regression == pytest.approx(4255954.13232369, rel=1e-12)
    assert regression / norris.residual_sd**2 == pytest.approx(5436385.54079785, rel=1e-6)


def test_norris_as_a_wear_series(norris):
    """The same line through the wear series: it crosses 500 where the certified line does."""
    y, x = np.array(NORRIS.split(), dtype=float).reshape(36, 2).T
    trend = wear_trend(x, y, lower=-10.0, upper=500.0)
    assert trend.crossing.leaving is Leaving.LEAVES
    assert trend.crossing.at_km == pytest.approx((500.0 + 0.262323073774029) / 1.00211681802045, rel=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_line_and_its_interval_agree_with_independent_programs(seed):
    rng = np.random.default_rng(seed)
    x = rng.uniform(0, 600, 12)
    y = 65 - 0.02 * x + rng.normal(0, 1.5, 12)
    fit, one = fit_line(x, y, level=0.9), scipy.stats.linregress(x, y)
    assert (fit.slope, fit.intercept) == pytest.approx((one.slope, one.intercept), rel=1e-10)
    assert (fit.slope_se, fit.intercept_se) == pytest.approx((one.stderr, one.intercept_stderr), rel=1e-10)
    other = sm.OLS(y, sm.add_constant(x)).fit()
    assert (fit.slope_interval.low, fit.slope_interval.high) == pytest.approx(other.conf_int(0.1)[1], rel=1e-9)
    assert fit.covariance == pytest.approx(other.cov_params()[0, 1], rel=1e-9)
    at = np.array([x.min(), 300.0, x.max()])
    frame = other.get_prediction(sm.add_constant(at)).summary_frame(alpha=0.1)
    found = predict(fit, at)
    assert found.low == pytest.approx(frame["mean_ci_lower"].to_numpy(), rel=1e-9)
    assert found.high == pytest.approx(frame["mean_ci_upper"].to_numpy(), rel=1e-9)


def test_norris_as_reference_scores(norris):
    """The certified line through the fit of a scoring model: anchors where it is 0 and 100, residual SD certified."""
    y, x = np.array(NORRIS.split(), dtype=float).reshape(36, 2).T
    shoes = [ReferenceShoe(str(n), torque_15_nm=float(x[n]), midfoot=float(y[n])) for n in range(36)]
    fit = fit_model(shoes, base=S1, version="S2")
    b0, b1 = -0.262323073774029, 1.00211681802045
    assert fit.model.torque_0_nm == pytest.approx(-b0 / b1, abs=1e-10)
    assert fit.model.torque_100_nm == pytest.approx((100.0 - b0) / b1, abs=1e-10)
    assert fit.parts[0].residual_sd == pytest.approx(0.884796396144373, abs=1e-10)
    # At score 0 the anchor's error is that of the intercept over the slope, but for the slope's own error there.
    assert fit.parts[0].parameters[0].standard_error == pytest.approx(0.232818234301152 / b1, rel=1e-3)


def test_weight_of_stability_agrees_with_an_independent_program():
    rng = np.random.default_rng(2)
    shoes = [
        ReferenceShoe(str(n), torque_15_nm=t, deflection_mm=d, stability=s)
        for n, (t, d, s) in enumerate(
            zip(rng.uniform(2, 9, 9), rng.uniform(3, 9, 9), rng.uniform(40, 70, 9), strict=True)
        )
    ]
    midfoot = np.array([100 * shoe.torque_15_nm / 9.038783 for shoe in shoes])
    rearfoot = np.array([100 * (10 - shoe.deflection_mm) / 7 for shoe in shoes])
    other = sm.OLS(np.array([shoe.stability for shoe in shoes]) - rearfoot, midfoot - rearfoot).fit()
    (part,) = fit_model(shoes, base=S1, version="S2").parts
    assert part.parameters[0].value == pytest.approx(other.params[0], rel=1e-9)
    assert part.parameters[0].standard_error == pytest.approx(other.bse[0], rel=1e-9)
    assert (part.parameters[0].interval.low, part.parameters[0].interval.high) == pytest.approx(
        tuple(other.conf_int()[0]), rel=1e-9
    )
