"""E_n of rigs: by hand, under other units, what averaging and sharing change, and how often it errs."""

import math

import numpy as np
import pytest

from labtests.domain.studies.agreement import RigMean, RigReading, agreement, agreements, mean_of_rig, normalised_error

NONE = frozenset()


def test_averaging_makes_repeats_smaller_and_calibrations_not():
    tests = [RigReading(4.0 + 0.1 * n, 0.3, {"gain": 0.02 + 0.01 * n}) for n in range(4)]
    mean = mean_of_rig("rig-1", tests)
    assert (mean.n, mean.value) == (4, pytest.approx(4.15))
    assert mean.type_a == pytest.approx(0.15)
    assert mean.type_b == {"gain": 0.05}


def test_the_sign_says_which_rig_reads_high():
    low, high = RigMean("a", 1, 4.0, 0.05, {"gain": 0.1}), RigMean("b", 2, 4.6, 0.05, {"gain": 0.1})
    one, other = agreement(low, high, shared=NONE), agreement(high, low, shared=NONE)
    assert one.en == pytest.approx(0.6 / (2 * math.hypot(0.05, 0.1, 0.05, 0.1)))
    assert other.en == -one.en
    assert one.is_beyond
    assert other.is_beyond
    assert (one.n_first, one.n_second) == (1, 2)


def test_what_both_share_does_not_excuse_a_difference():
    means = [RigMean(name, 1, value, 0.0, {"gain": 0.1, "foam": 0.4}) for name, value in (("a", 4.0), ("b", 4.5))]
    assert not agreement(*means, shared=NONE).is_beyond
    assert agreement(*means, shared=frozenset({"foam"})).is_beyond


def test_every_pair_is_judged_and_one_rig_alone_is_not():
    means = [RigMean(name, 1, 4.0, 0.1, {}) for name in "abc"]
    assert len(agreements(means, shared=NONE)) == 3
    assert agreements(means[:1], shared=NONE) == ()
    assert agreements([], shared=NONE) == ()


def test_rigs_without_uncertainty_have_no_number_and_differ_by_anything():
    one, two = (RigMean(name, 1, value, 0.0, {}) for name, value in (("a", 4.0), ("b", 4.001)))
    assert agreement(one, two, shared=NONE).en is None
    assert agreement(one, two, shared=NONE).is_beyond
    assert not agreement(one, one, shared=NONE).is_beyond


def test_rigs_that_agree_are_accused_in_one_case_of_twenty_and_what_could_be_found_is_found_in_eight_of_ten():
    rng = np.random.default_rng(12)
    base = agreement(RigMean("a", 1, 0.0, 0.3, {"x": 0.4}), RigMean("b", 1, 0.0, 0.2, {"x": 0.1}), shared=NONE)
    noise = rng.normal(0.0, base.expanded / 2, 40_000)
    assert np.mean(np.abs(noise) > base.expanded) == pytest.approx(0.0455, abs=0.004)
    assert np.mean(noise + base.could_find > base.expanded) == pytest.approx(0.8, abs=0.008)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ((1.0, -0.1, 1.0, 0.1), "must be ≥ 0, got -0.1 and 0.1"),
        ((math.nan, 0.1, 1.0, 0.1), "must be finite"),
        ((1.0, 0.1, 1.0, math.inf), "must be finite"),
    ],
)
def test_numbers_that_cannot_be_are_refused(given, words):
    with pytest.raises(ValueError, match=words):
        normalised_error(*given)


def test_a_rig_without_tests_is_refused():
    with pytest.raises(ValueError, match="tests must be ≥ 1, got 0"):
        mean_of_rig("rig-1", [])
