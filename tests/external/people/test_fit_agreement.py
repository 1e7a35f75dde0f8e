"""Kappa against published tables and an independent program."""

import numpy as np
import pytest
from statsmodels.stats.inter_rater import cohens_kappa

from fittings.domain.outcomes.agreement import weighted_kappa

COUPLES = [[7, 7, 2, 3], [2, 8, 3, 7], [1, 5, 4, 9], [2, 8, 9, 14]]
WINNIPEG = [[38, 5, 0, 1], [33, 11, 3, 0], [10, 14, 5, 6], [3, 7, 3, 10]]
NEW_ORLEANS = [[5, 3, 0, 0], [3, 11, 4, 0], [2, 13, 3, 4], [1, 2, 4, 14]]


def test_two_readers_of_a_clinical_sign():
    """K-01, course notes on clinical measurement (PAGE): 98.91 %, 54.52 %, 0.9760, 0.0739, 0.017."""
    found = weighted_kappa([[118, 1], [1, 63]])
    assert (found.agreement, found.expected) == pytest.approx((0.989071, 0.545164), abs=1e-6)
    assert found.kappa == pytest.approx(0.975972, abs=1e-6)
    assert found.standard_error_null == pytest.approx(0.073922, abs=1e-6)
    assert found.standard_error == pytest.approx(0.016897, abs=1e-6)
    assert found.kappa / found.standard_error_null == pytest.approx(13.2027, abs=1e-4)


def test_table_with_kappa_of_exactly_two_fifths():
    """K-02 (MEM)."""
    found = weighted_kappa([[20, 5], [10, 15]])
    assert (found.agreement, found.expected) == pytest.approx((0.70, 0.50))
    assert found.kappa == pytest.approx(0.4, abs=1e-12)
    assert found.standard_error == pytest.approx(0.126996, abs=1e-6)


def test_cohen_1960():
    """K-03, Cohen 1960, n = 200 (MEM: 0.492)."""
    found = weighted_kappa([[88, 14, 18], [10, 40, 10], [2, 6, 12]])
    assert (found.agreement, found.expected) == pytest.approx((0.70, 0.41))
    assert found.kappa == pytest.approx(29 / 59, abs=1e-12)
    assert found.standard_error == pytest.approx(0.051002, abs=1e-6)


@pytest.mark.parametrize(
    ("weights", "kappa", "error"),
    [("none", 0.129330, 0.068599), ("linear", 0.237381, 0.078316), ("quadratic", 0.332046, 0.097298)],
)
def test_ninety_one_couples(weights, kappa, error):
    """K-04, data PKG; 0.1293 (0.0686) and 0.2374 (0.0783) printed, MEM."""
    found = weighted_kappa(COUPLES, weights)
    assert (found.kappa, found.standard_error) == pytest.approx((kappa, error), abs=1e-6)


@pytest.mark.parametrize(
    ("table", "plain", "error", "linear", "quadratic"),
    [
        (WINNIPEG, 0.207942, 0.050455, 0.379731, 0.524576),
        (NEW_ORLEANS, 0.296517, 0.078504, 0.477273, 0.625581),
    ],
)
def test_diagnoses_of_multiple_sclerosis(table, plain, error, linear, quadratic):
    """K-05 and K-06, Landis and Koch 1977 (data PKG; 0.208 and 0.297 printed, MEM)."""
    found = weighted_kappa(table)
    assert (found.kappa, found.standard_error) == pytest.approx((plain, error), abs=1e-6)
    assert weighted_kappa(table, "linear").kappa == pytest.approx(linear, abs=1e-6)
    assert weighted_kappa(table, "quadratic").kappa == pytest.approx(quadratic, abs=1e-6)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(("weights", "name"), [("none", None), ("linear", "linear"), ("quadratic", "quadratic")])
def test_agrees_with_an_independent_program(seed, weights, name):
    table = np.random.default_rng(seed).integers(0, 25, (4, 4))
    found, other = weighted_kappa(table, weights), cohens_kappa(table, wt=name)
    assert found.kappa == pytest.approx(other.kappa, rel=1e-10)
    assert found.standard_error == pytest.approx(other.std_kappa, rel=1e-9)
    assert found.standard_error_null == pytest.approx(other.std_kappa0, rel=1e-9)
    assert (found.low, found.high) == pytest.approx((other.kappa_low, other.kappa_upp), rel=1e-9)
