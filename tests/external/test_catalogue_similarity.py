"""Similarity of shoes against published values."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.distance import seuclidean

from catalogue.domain.similarity import FEATURES, difference_u, prepare, spreads, verdict

NAN = math.nan


def test_standardized_euclidean_distance_against_scipy():
    # PKG: scipy.spatial.distance.seuclidean, an independent reference. Ours is its mean square form: / √6.
    rng = np.random.default_rng(20)
    table = rng.normal([60, 55, 65, 50, 280, 8], [12, 10, 15, 12, 30, 3], size=(40, len(FEATURES)))
    ours = prepare(table, np.full_like(table, NAN)).distances(7)
    variances = table.var(axis=0, ddof=1)
    theirs = [seuclidean(table[7], row, variances) / math.sqrt(len(FEATURES)) for row in table]
    assert ours == pytest.approx(theirs, rel=1e-12)


def test_scipy_printed_example():
    # PAGE: SciPy reference guide, scipy.spatial.distance.seuclidean, examples: 4.4721359549995796 for (1, 0, 0) and
    # (0, 1, 0) with variances of 0.1. Written in a unit √10 times as large the variances are 1: here a spread² of 0.5
    # and an uncertainty² of 0.25 of each shoe.
    table = [[1, 0, 0, NAN, NAN, NAN], [0, 1, 0, NAN, NAN, NAN]]
    u = [[0.5, 0.5, 0.5, NAN, NAN, NAN]] * 2
    assert spreads(table)[:2] ** 2 == pytest.approx([0.5, 0.5])
    # Ours is a mean over the three features compared, theirs a sum.
    assert prepare(table, u).distances(0)[1] * math.sqrt(3) * math.sqrt(10) == pytest.approx(
        4.4721359549995796, rel=1e-12
    )


def test_normalized_error_of_the_nist_reference_manual():
    # PAGE: NIST Dataplot reference manual, "ISO 13528 EN SCORE", first rows of its output: x − X of 0.006, −0.004 and
    # −0.002 give E_n of 0.393, −0.262 and −0.131. The two standard deviations behind it (gear data, first batch
    # 0.0043461, all 0.0062789) are MEM.
    expanded = difference_u(0.0043461, 0.0062789)
    for difference, printed in ((0.006, 0.393), (-0.004, -0.262), (-0.002, -0.131)):
        assert difference / expanded == pytest.approx(printed, abs=5e-4)


@pytest.mark.parametrize(("normalized", "said"), [(0.393, "within"), (1.0, "within"), (1.001, "beyond")])
def test_agreement_is_a_normalized_error_of_at_most_one(normalized, said):
    # PAGE: the same manual: with a coverage factor of 2 the critical value of E_n is 1.
    assert verdict(normalized * 2.5, 2.5) == said
