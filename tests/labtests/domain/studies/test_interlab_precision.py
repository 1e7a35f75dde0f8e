"""Precision between laboratories: laws and edges (published values are in tests/external)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.studies.interlab import (
    Verdict,
    cochran_critical,
    grubbs_critical,
    mandel_h_critical,
    mandel_k_critical,
    precision,
)

rows = st.lists(st.lists(st.integers(-500, 500), min_size=2, max_size=6), min_size=2, max_size=8)


def named(values):
    return {f"L{place}": row for place, row in enumerate(values)}


@given(rows)
def test_reproducibility_is_never_below_repeatability(values):
    found = precision(named(values))
    assert found.reproducibility_sd >= found.repeatability_sd >= 0.0
    assert found.reproducibility_sd**2 == pytest.approx(found.repeatability_sd**2 + found.between_sd**2)
    assert found.between_sd**2 == pytest.approx(max(0.0, found.between_variance_raw))
    assert found.repeatability_interval.low <= found.repeatability_sd <= found.repeatability_interval.high


@given(rows, st.sampled_from([0.01, 25.4]), st.integers(-90, 90))
def test_another_unit_scales_the_standard_deviations(values, factor, shift):
    one = precision(named(values))
    other = precision(named([[factor * (value + shift) for value in row] for row in values]))
    assert other.repeatability_sd == pytest.approx(factor * one.repeatability_sd, abs=1e-7)
    assert other.reproducibility_limit == pytest.approx(factor * one.reproducibility_limit, rel=1e-6, abs=1e-4)
    assert other.mean == pytest.approx(factor * (one.mean + shift), abs=1e-7)


@given(rows, st.randoms(use_true_random=False))
def test_the_order_of_laboratories_and_results_is_no_matter(values, random):
    mixed = [random.sample(row, len(row)) for row in random.sample(values, len(values))]
    one, other = precision(named(values)), precision(named(mixed))
    assert other.repeatability_sd == pytest.approx(one.repeatability_sd)
    assert other.between_variance_raw == pytest.approx(one.between_variance_raw, rel=1e-9, abs=1e-7)


@given(rows)
def test_mandel_h_adds_up_to_nothing_and_k_squared_to_the_degrees_of_freedom(values):
    found = precision(named(values))
    if all(lab.h for lab in found.labs):
        assert sum(lab.h.statistic for lab in found.labs) == pytest.approx(0.0, abs=1e-6)
    if all(lab.k for lab in found.labs):
        df = [lab.n - 1 for lab in found.labs]
        squares = sum(d * lab.k.statistic**2 for d, lab in zip(df, found.labs, strict=True))
        assert squares == pytest.approx(sum(df))


def test_a_laboratory_with_one_result_counts_for_the_means_only():
    found = precision({"A": [1.0, 3.0], "B": [2.0, 4.0], "C": [9.0]})
    assert found.n == 5
    assert found.repeatability_sd**2 == pytest.approx(2.0)
    assert found.labs[2].sd is None
    assert found.labs[2].k is None
    assert found.labs[2].h.statistic > 0


def test_negative_between_variance_counts_as_zero_and_is_kept_raw():
    found = precision({"A": [1.0, 5.0], "B": [1.1, 4.9]})
    assert found.between_variance_raw < 0.0
    assert found.between_sd == 0.0
    assert found.reproducibility_sd == found.repeatability_sd
    # The rigs may differ all the same: of two means little is known about all rigs.
    assert found.between_interval.low == 0.0
    assert found.reproducibility_interval.high > found.reproducibility_sd
    assert found.reproducibility_interval.low <= found.repeatability_interval.low


def test_a_wild_laboratory_is_named_by_every_statistic():
    rng = np.random.default_rng(3)
    results = {f"L{n}": rng.normal(50, 1, 4).tolist() for n in range(8)}
    results["far"] = rng.normal(90, 1, 4).tolist()
    results["rough"] = rng.normal(50, 30, 4).tolist()
    found = precision(results)
    assert (found.cochran.lab, found.cochran.verdict) == ("rough", Verdict.OUTLIER)
    by_name = {lab.lab: lab for lab in found.labs}
    assert by_name["rough"].k.verdict is Verdict.OUTLIER
    assert by_name["far"].h.verdict is not Verdict.NOTHING
    assert found.grubbs.lab == "far"
    assert found.grubbs.statistic == pytest.approx(abs(by_name["far"].h.statistic))


def test_between_the_two_critical_values_is_a_straggler():
    p = 8
    middle = (grubbs_critical(p, 0.05) + grubbs_critical(p, 0.01)) / 2
    # Seven means about 0 and one placed so that G is `middle`, by bisection.
    base = np.array([-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0])

    def g(far):
        means = np.append(base, far)
        return (far - means.mean()) / means.std(ddof=1)

    low, high = 3.0, 1000.0
    for _ in range(80):
        half = (low + high) / 2
        low, high = (half, high) if g(half) < middle else (low, half)
    found = precision(named([[mean - 0.1, mean + 0.1] for mean in (*base, low)]))
    assert found.grubbs.verdict is Verdict.STRAGGLER


def test_two_laboratories_have_no_h_and_no_grubbs():
    found = precision({"A": [4.0, 6.0], "B": [8.0, 10.0]})
    assert found.grubbs is None
    assert all(lab.h is None for lab in found.labs)
    assert found.cochran.statistic == pytest.approx(0.5)


def test_results_without_scatter_leave_nothing_to_compare():
    found = precision({"A": [0.1, 0.1], "B": [0.1, 0.1, 0.1], "C": [0.1] * 4})
    assert found.repeatability_sd == pytest.approx(0.0, abs=1e-15)
    assert found.cochran is None
    assert found.grubbs is None


def test_one_repeating_laboratory_has_no_other_to_compare_its_scatter_with():
    found = precision({"A": [1.0, 2.0], "B": [1.5], "C": [1.6]})
    assert found.cochran is None
    assert all(lab.k is None for lab in found.labs)


@pytest.mark.parametrize(
    ("results", "words"),
    [
        ({"A": [1.0, 2.0]}, "laboratories must be ≥ 2, got 1"),
        ({"A": [1.0], "B": [2.0]}, "at least one laboratory must have ≥ 2 results, got 1 from each"),
        ({"A": [1.0, 2.0], "B": []}, "results of B must hold ≥ 1 values, got 0"),
        ({"A": [1.0, float("inf")], "B": [1.0]}, "results of A must be finite, got inf as value 2"),
    ],
)
def test_results_that_cannot_be_analysed_are_refused(results, words):
    with pytest.raises(ValueError, match=words):
        precision(results)


def test_critical_values_are_refused_where_they_are_not_defined():
    for critical in (mandel_h_critical, grubbs_critical):
        with pytest.raises(ValueError, match="p must be ≥ 3, got 2"):
            critical(2, 0.05)
    with pytest.raises(ValueError, match="p and n must be ≥ 2, got 3 and 1"):
        cochran_critical(3, 1, 0.05)
    with pytest.raises(ValueError, match="df must be > 0 and < 4, got 4"):
        mandel_k_critical(4, 4, 0.05)
