"""Precision between laboratories against ISO 5725-2, NIST reference data and published critical values."""

import re
from pathlib import Path

import numpy as np
import pytest
import scipy.stats

from labtests.domain.studies.agreement import RigMean, agreement, normalised_error
from labtests.domain.studies.interlab import (
    LIMIT_FACTOR,
    Verdict,
    cochran_critical,
    grubbs_critical,
    mandel_h_critical,
    mandel_k_critical,
    precision,
)

# CHECKS 3.4: ISO 5725-2:1994, B.1, sulfur in coal, % by mass; 8 laboratories, 4 levels (data MEM, recomputed exactly).
COAL = """
.71 .71 .70 .71     | 1.20 1.18 1.23 1.21 | 1.68 1.70 1.68 1.69      | 3.26 3.26 3.20 3.24
.69 .67 .68         | 1.22 1.21 1.22      | 1.64 1.64 1.65           | 3.20 3.20 3.20
.66 .65 .69         | 1.28 1.31 1.30      | 1.61 1.61 1.62           | 3.37 3.36 3.38
.67 .65 .66         | 1.23 1.18 1.20      | 1.68 1.66 1.66           | 3.16 3.22 3.23
.70 .69 .66 .71 .69 | 1.31 1.22 1.22 1.24 | 1.64 1.67 1.60 1.66 1.68 | 3.20 3.19 3.18 3.27 3.24
.73 .74 .73         | 1.39 1.36 1.37      | 1.70 1.73 1.73           | 3.27 3.31 3.29
.71 .71 .69         | 1.20 1.26 1.26      | 1.69 1.70 1.68           | 3.27 3.24 3.23
.70 .65 .68         | 1.24 1.22 1.30      | 1.67 1.68 1.67           | 3.25 3.26 3.26
"""
SIRSTV = {
    "1": [196.3052, 196.1240, 196.1890, 196.2569, 196.3403],
    "2": [196.3042, 196.3825, 196.1669, 196.3257, 196.0422],
    "3": [196.1303, 196.2005, 196.2889, 196.0343, 196.1811],
    "4": [196.2795, 196.1748, 196.1494, 196.1485, 195.9885],
    "5": [196.2119, 196.1051, 196.1850, 196.0052, 196.2090],
}
NIST_FILES = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_anova"


def coal(level):
    cells = [line.split("|")[level - 1].split() for line in COAL.strip().splitlines()]
    return {f"laboratory {number}": [float(value) for value in cell] for number, cell in enumerate(cells, 1)}


@pytest.mark.parametrize(
    ("level", "n", "mean", "s_r", "s_l", "s_big_r", "r", "big_r"),
    [
        (1, 27, 0.6904, 0.0151, 0.0216, 0.0264, 0.04233, 0.07382),
        (2, 26, 1.2523, 0.0288, 0.0533, 0.0606, 0.08058, 0.16970),
        (3, 27, 1.6674, 0.0171, 0.0303, 0.0348, 0.04782, 0.09735),
        (4, 27, 3.2496, 0.0261, 0.0521, 0.0582, 0.07302, 0.16301),
    ],
)
def test_sulfur_in_coal(level, n, mean, s_r, s_l, s_big_r, r, big_r):
    """CHECKS 3.4: ISO 5725-2:1994, B.1 (MEM), tolerance 5e-5; limits 2.8 times (PAGE for the factor)."""
    found = precision(coal(level))
    assert found.n == n
    assert (found.mean, found.repeatability_sd) == pytest.approx((mean, s_r), abs=5e-5)
    assert (found.between_sd, found.reproducibility_sd) == pytest.approx((s_l, s_big_r), abs=5e-5)
    assert (found.repeatability_limit, found.reproducibility_limit) == pytest.approx((r, big_r), abs=1e-5)


def test_sulfur_in_coal_has_no_outlying_laboratory():
    """Kept whole in the standard's example (MEM): nothing beyond the 1 % values."""
    for level in (1, 2, 3, 4):
        found = precision(coal(level))
        assert found.cochran.verdict is not Verdict.OUTLIER
        assert found.grubbs.verdict is Verdict.NOTHING


@pytest.mark.parametrize(
    ("s_r", "r", "s_big_r", "big_r"),
    [(0.021, 0.059, 0.057, 0.160), (0.042, 0.118, 0.137, 0.383), (0.047, 0.131, 0.102, 0.284)],
)
def test_limits_of_a_published_ring_test(s_r, r, s_big_r, big_r):
    """CHECKS 3.4: total sulfur in aggregates, three levels (PAGE); 0.002 for the rounding of the printed s."""
    assert (LIMIT_FACTOR * s_r, LIMIT_FACTOR * s_big_r) == pytest.approx((r, big_r), abs=0.002)


def test_equal_numbers_pool_by_the_root_mean_square():
    """ASTM E691 as NIST describes it (PAGE, CHECKS 3.5): s_r = √(Σ s² / p) for equal n."""
    sds = [lab.sd for lab in precision(SIRSTV).labs]
    assert precision(SIRSTV).repeatability_sd == pytest.approx(np.sqrt(np.mean(np.square(sds))), rel=1e-12)


def nist(name):
    """Groups and certified F, residual standard deviation and mean squares of a reference data set; None without it."""
    path = NIST_FILES / f"{name}.dat"
    if not path.exists():
        return None
    groups = {}
    for line in re.split(r"^Data:.*$", path.read_text(), flags=re.MULTILINE)[-1].splitlines():
        if len(line.split()) == 2:
            group, value = line.split()
            groups.setdefault(group, []).append(float(value))
    between = re.search(r"Between \w+\s+(\d+)\s+(\S+)\s+(\S+)\s+(\S+)", path.read_text())
    within = re.search(r"Within \w+\s+(\d+)\s+(\S+)\s+(\S+)", path.read_text())
    return groups, float(between[3]), float(within[3]), float(between[4])


def mean_squares(groups):
    """Between and within mean squares, from what `precision` says."""
    found = precision(groups)
    within = found.repeatability_sd**2
    return within + found.n_bar * found.between_variance_raw, within


def test_resistivity_of_silicon():
    """CHECKS 3.6: NIST StRD SiRstv (PKG: SciPy's test data; values typed here where the file is not installed)."""
    groups, *certified = nist("SiRstv") or (SIRSTV, 1.27865654e-02, 1.0831828e-02, 1.18046237440255)
    assert groups == SIRSTV
    between, within = mean_squares(groups)
    assert (between, within) == pytest.approx(certified[:2], rel=1e-9)
    assert between / within == pytest.approx(certified[2], rel=1e-9)
    found = precision(groups)
    assert found.repeatability_sd == pytest.approx(1.04076068334656e-01, rel=1e-9)
    # DERIVED, CHECKS 3.6.
    assert found.between_variance_raw == pytest.approx(0.000390947480, abs=1e-11)
    assert (found.between_sd, found.reproducibility_sd) == pytest.approx((0.019772392, 0.105937602), abs=1e-8)


@pytest.mark.skipif(not NIST_FILES.exists(), reason="SciPy is installed without its test data")
@pytest.mark.parametrize(
    ("name", "tolerance"),
    [
        ("AtmWtAg", 1e-7),
        *[(f"SmLs0{number}", 1e-12) for number in (1, 2, 3)],
        *[(f"SmLs0{number}", 1e-7) for number in (4, 5, 6)],
        *[(f"SmLs0{number}", 0.05) for number in (7, 8, 9)],
    ],
)
def test_harder_reference_data(name, tolerance):
    """CHECKS 3.6: NIST StRD (PKG). The last three differ in the 13th digit, beyond what double precision can hold."""
    groups, *certified = nist(name)
    between, within = mean_squares(groups)
    assert (between, within, between / within) == pytest.approx(certified, rel=tolerance)


MANDEL_1_PERCENT = """
3 1.15 1.71 1.64 1.58 1.53 1.49 1.46 1.43 1.41 1.39
4 1.49 1.91 1.77 1.67 1.60 1.55 1.51 1.48 1.45 1.43
5 1.72 2.05 1.85 1.73 1.65 1.59 1.55 1.51 1.48 1.46
6 1.87 2.14 1.90 1.77 1.68 1.62 1.57 1.53 1.50 1.47
7 1.98 2.20 1.94 1.79 1.70 1.63 1.58 1.54 1.51 1.48
8 2.06 2.25 1.97 1.81 1.71 1.65 1.59 1.55 1.52 1.49
9 2.13 2.29 1.99 1.82 1.73 1.66 1.60 1.56 1.53 1.50
10 2.18 2.32 2.00 1.84 1.74 1.66 1.61 1.57 1.53 1.50
11 2.22 2.34 2.01 1.85 1.74 1.67 1.62 1.57 1.54 1.51
12 2.25 2.36 2.02 1.85 1.75 1.68 1.62 1.58 1.54 1.51
13 2.27 2.38 2.03 1.86 1.76 1.68 1.63 1.58 1.55 1.52
14 2.30 2.39 2.04 1.87 1.76 1.69 1.63 1.58 1.55 1.52
15 2.32 2.41 2.05 1.87 1.76 1.69 1.63 1.59 1.55 1.52
"""


@pytest.mark.parametrize("row", MANDEL_1_PERCENT.strip().splitlines())
def test_mandel_critical_values(row):
    """ISO 5725-2:1994, table 6, 1 %: p, h, k for n = 2 to 10 (PAGE); its k are up to 0.01 from the exact ones."""
    p, h, *k = (float(cell) for cell in row.split())
    assert mandel_h_critical(int(p), 0.01) == pytest.approx(h, abs=0.006)
    exact = [mandel_k_critical(n - 1, p * (n - 1), 0.01) for n in range(2, 11)]
    assert exact == pytest.approx(k, abs=0.01)


COCHRAN_5_PERCENT = """
2 0.998 0.975 0.939 0.906
3 0.967 0.871 0.798 0.746
4 0.906 0.768 0.684 0.629
5 0.841 0.684 0.598 0.544
6 0.781 0.616 0.532 0.480
7 0.727 0.561 0.480 0.431
8 0.680 0.516 0.438 0.391
9 0.638 0.477 0.403 0.358
10 0.602 0.445 0.373 0.331
15 0.471 0.335 0.276 0.242
20 0.389 0.270 0.221 0.192
"""


@pytest.mark.parametrize("row", COCHRAN_5_PERCENT.strip().splitlines())
def test_cochran_critical_values(row):
    """5 %: p, then n = 2 to 5 (PAGE: a national metrology programme's page on the Cochran test)."""
    p, *values = row.split()
    exact = [cochran_critical(int(p), n, 0.05) for n in (2, 3, 4, 5)]
    assert exact == pytest.approx([float(value) for value in values], abs=6e-4)


@pytest.mark.parametrize(
    ("p", "five", "one"), [(3, 1.1543, 1.1547), (4, 1.4812, 1.4962), (5, 1.7150, 1.7637), (6, 1.8871, 1.9728)]
)
def test_grubbs_critical_values(p, five, one):
    """Two-sided, 5 % and 1 % (PAGE: the table in an open-source package for sample statistics)."""
    assert (grubbs_critical(p, 0.05), grubbs_critical(p, 0.01)) == pytest.approx((five, one), abs=1.1e-4)


def test_grubbs_of_uranium_isotope_readings():
    """NIST/SEMATECH e-Handbook 1.3.5.17: G = 2.4688, one-sided 5 % value 2.032 (data and values MEM)."""
    readings = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
    found = precision({str(place): [value - 0.01, value + 0.01] for place, value in enumerate(readings)})
    assert found.grubbs.lab == "7"
    assert found.grubbs.statistic == pytest.approx(2.4688, abs=5e-5)
    assert found.grubbs.verdict is Verdict.OUTLIER
    assert grubbs_critical(8, 0.10) == pytest.approx(2.032, abs=5e-4)


@pytest.mark.parametrize(
    ("value", "expanded", "reference", "expanded_reference", "en"),
    [
        (10.5, 0.3, 10.0, 0.4, 1.0),
        (10.0, 0.3, 10.5, 0.4, -1.0),
        (10.0, 0.6, 10.0, 0.8, 0.0),
        (13.0, 1.2, 10.0, 1.6, 1.5),
        (10.0, 0.0, 9.0, 2.0, 0.5),
    ],
)
def test_en_numbers_by_their_definition(value, expanded, reference, expanded_reference, en):
    """ISO 13528 / ISO/IEC 17043: (x - X) / √(U(x)² + U(X)²). DEF: right triangles, so that the roots are exact."""
    assert normalised_error(value, expanded, reference, expanded_reference) == pytest.approx(en, abs=1e-12)


def test_rigs_of_issue_12_disagree():
    """Issue 12.2: on a check specimen E_n of BENCH-3 against BENCH-1 comes to about 1.07: not to be missed."""
    one = RigMean("BENCH-1", 3, 50.00, 0.10, {"calibrations": 0.30})
    three = RigMean("BENCH-3", 3, 51.00, 0.10, {"calibrations": 0.333})
    found = agreement(one, three, shared=frozenset())
    assert found.en == pytest.approx(1.07, abs=0.01)
    assert found.is_beyond
