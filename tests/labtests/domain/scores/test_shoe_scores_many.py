"""Shoes' scores of many tests at once: against a plain calculation of one shoe, and by hand."""

import math
from itertools import groupby

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import f as f_distribution

from labtests.domain.scores.places import TestPlaces
from labtests.domain.scores.shoe_scores import BenchTestScores, Pooled, combine_all, shoe_score

UNLIMITED = Pooled(np.zeros(2), np.full(2, np.inf), None, 0.0)
part = st.one_of(st.just(math.nan), st.floats(0.01, 5.0))
df = st.sampled_from([2.0, 7.0, math.inf])
one_test = st.tuples(
    st.floats(-50.0, 150.0), part, part, df, df, st.integers(0, 5), st.integers(0, 1), st.integers(0, 2)
)
pools = st.builds(
    lambda setup, setup_df, specimens, of: Pooled(
        np.array(setup), np.array(setup_df), specimens, (specimens or 0) * of
    ),
    st.tuples(st.floats(0.0, 4.0), st.floats(0.0, 4.0)),
    st.tuples(df, df),
    st.one_of(st.none(), st.floats(0.0, 9.0)),
    st.floats(0.01, 0.5),
)


def combine(tests, shoe_of, shoes, pooled=UNLIMITED):
    """Tests are (value, a, b, df of a, df of b, specimen, rig, day)."""
    rows = list(zip(*tests, strict=True)) or [[]] * 8
    columns = [np.array(column, dtype=float) for column in rows[:5]]
    specimen, rig, day = (np.array(column, dtype=np.int64) for column in rows[5:])
    places = TestPlaces(specimen=specimen, shoe_of=np.array(shoe_of), shoes=shoes, rig=rig, day=day, rigs=2)
    return combine_all(BenchTestScores(*columns), places, pooled)


def beyond(squares, expected, own_df, expected_df):
    if own_df < 1 or squares <= 0:
        return 0.0
    is_beyond = expected == 0 or f_distribution.sf(squares / expected, own_df, min(expected_df, 1e9)) < 0.05
    return (squares - expected) / own_df if is_beyond else 0.0


def one_by_one(tests, pooled):
    """One shoe by loops, as the text of GUM has it."""
    by_specimen = {
        key: list(own) for key, own in groupby(sorted(tests, key=lambda test: test[5]), lambda test: test[5])
    }
    n = len(by_specimen)
    means = {key: math.fsum(test[0] for test in own) / len(own) for key, own in by_specimen.items()}
    value = math.fsum(means.values()) / n
    weight = {id(test): 1 / (n * len(own)) for own in by_specimen.values() for test in own}
    within = {id(test): (weight[id(test)] * test[1]) ** 2 for test in tests}
    within2, below = sum(within.values()), sum(within[id(test)] ** 2 / test[3] for test in tests)
    setup2 = 0.0
    for rig in (0, 1):
        days = {test[7] for test in tests if test[6] == rig}
        share = sum(sum(weight[id(t)] for t in tests if (t[6], t[7]) == (rig, day)) ** 2 for day in days)
        setup2 += share * pooled.setup2[rig]
        below += (share * pooled.setup2[rig]) ** 2 / pooled.setup_df[rig]

    def day_part(own, whole):
        """Sum of squares that days make of tests about their mean, or of specimens about theirs."""
        cells = {(test[6], test[7]) for test in own}
        found = 0.0
        for rig, day in cells:
            count = sum((test[6], test[7]) == (rig, day) for test in own)
            found += pooled.setup2[rig] * (count - count**2 / len(own) if whole else (count / len(own)) ** 2)
        return found

    squares = sum((test[0] - means[test[5]]) ** 2 for test in tests)
    expected = sum(test[1] ** 2 * (1 - 1 / len(own)) for own in by_specimen.values() for test in own)
    expected += sum(day_part(own, True) for own in by_specimen.values())
    extra = beyond(squares, expected, len(tests) - n, min(test[3] for test in tests))
    extra2 = extra * sum(each**2 for each in weight.values())
    explained = sum((test[1] ** 2 + extra) / len(own) ** 2 for own in by_specimen.values() for test in own) * (
        1 - 1 / n
    )
    explained += sum(day_part(own, False) for own in by_specimen.values()) - n * setup2
    squares = sum((mean - value) ** 2 for mean in means.values())
    between2 = 0.0
    if pooled.specimens2 is not None:
        between2 = pooled.specimens2 / n
        below += pooled.specimens_below / n**2
        pool_df = pooled.specimens2**2 / pooled.specimens_below if pooled.specimens_below else 1e9
        extra2 += beyond(squares, pooled.specimens2 * (n - 1) + explained, n - 1, max(1.0, pool_df)) / n
    elif n > 1 and squares > explained:
        between2 = (squares - explained) / (n - 1) / n
        below += (squares / (n - 1) / n) ** 2 / (n - 1)
    common = max(test[2] for test in tests)
    below += common**4 / min(test[4] for test in tests)
    u2 = within2 + setup2 + between2 + common**2 + extra2
    return value, n, math.sqrt(u2), u2**2 / below if below else math.inf


@given(st.lists(one_test, max_size=25), st.lists(st.integers(0, 2), min_size=6, max_size=6), pools)
def test_many_at_once_are_as_one_by_one(tests, shoe_of, pooled):
    found = combine(tests, shoe_of, 3, pooled)
    for shoe in range(3):
        own = [test for test in tests if shoe_of[test[5]] == shoe]
        if not own:
            assert math.isnan(found.value[shoe])
            assert math.isnan(found.u[shoe])
            assert found.specimens[shoe] == 0
            continue
        if any(math.isnan(test[1]) or math.isnan(test[2]) for test in own):
            assert math.isnan(found.u[shoe])
            assert math.isfinite(found.value[shoe])
            continue
        value, n, u, effective = one_by_one(own, pooled)
        assert (found.value[shoe], found.specimens[shoe]) == (pytest.approx(value, abs=1e-9), n)
        assert found.u[shoe] == pytest.approx(u, rel=1e-7)
        assert found.df[shoe] == pytest.approx(effective, rel=1e-6)


def shoe(values, pooled=UNLIMITED, days=None):
    """A shoe of specimens with one test each: u of repeats 1, of calibrations 0.5."""
    tests = [
        (value, 1.0, 0.5, math.inf, math.inf, place, 0, 0 if days is None else days[place])
        for place, value in enumerate(values)
    ]
    return shoe_score(combine(tests, [0] * len(values), 1, pooled))


def test_shoe_of_two_specimens_by_hand():
    found = shoe([50.0, 54.0])
    # Means' variance 8, over 2 = 4; within 1/2; between 3.5; the calibrations' 0.5 is shared.
    assert found.value == 52.0
    assert found.within == pytest.approx(math.sqrt(0.5))
    assert found.between == pytest.approx(math.sqrt(3.5))
    assert found.common == 0.5
    assert found.u == pytest.approx(math.sqrt(4.25))
    # One degree of freedom behind the 4: ν = 4.25² / 4².
    assert found.df == pytest.approx(4.25**2 / 16)


def test_specimens_that_agree_leave_within_and_common():
    found = shoe([50.0, 50.0])
    assert found.between == 0.0
    assert found.u == pytest.approx(math.sqrt(0.75))
    assert found.df is None


def test_one_specimen_of_a_catalogue_without_pairs_has_no_between_part():
    found = shoe([50.0])
    assert found.between is None
    assert found.u == pytest.approx(math.sqrt(1.25))


def test_pooled_specimens_make_one_less_sure_than_two():
    pooled = Pooled(np.zeros(2), np.full(2, np.inf), 4.0, 16.0 / 40)
    one, two = shoe([50.0], pooled), shoe([50.0, 51.0], pooled)
    assert one.u == pytest.approx(math.sqrt(1 + 4 + 0.25))
    assert two.u == pytest.approx(math.sqrt(0.5 + 2 + 0.25))
    assert one.df == pytest.approx(40 * 5.25**2 / 16)


def test_days_are_shared_by_the_tests_made_on_them():
    pooled = Pooled(np.array([2.0, 0.0]), np.array([9.0, np.inf]), 0.0, 0.0)
    assert shoe([50.0, 50.0], pooled, days=[4, 4]).setup == pytest.approx(math.sqrt(2.0))
    assert shoe([50.0, 50.0], pooled, days=[4, 5]).setup == pytest.approx(1.0)


def test_tests_of_one_specimen_that_disagree_widen_u():
    close = [(50.0, 0.3, 0.4, 30.0, math.inf, 0, 0, 1), (50.4, 0.3, 0.4, 30.0, math.inf, 0, 0, 2)]
    apart = [close[0], (57.0, *close[1][1:])]
    pooled = Pooled(np.zeros(2), np.full(2, np.inf), 0.3, 0.09 / 60)
    agreeing, disagreeing = (shoe_score(combine(tests, [0], 1, pooled)) for tests in (close, apart))
    assert agreeing.extra == 0.0
    # Two tests 7 apart: half of their variance 24.5 is what their mean is unsure by.
    assert disagreeing.u**2 == pytest.approx(24.5 / 2 + 0.3 + 0.16, rel=0.001)


def test_specimens_that_differ_beyond_the_pool_widen_u():
    pooled = Pooled(np.zeros(2), np.full(2, np.inf), 0.3, 0.09 / 60)
    assert shoe([50.0, 51.0], pooled).extra == 0.0
    assert shoe([50.0, 58.0], pooled).u ** 2 == pytest.approx(32 / 2 + 0.25)


def test_repeats_that_are_all_equal_do_not_hide_a_disagreement():
    tests = [(50.0, 0.0, 0.4, 2.0, math.inf, 0, 0, 1), (53.0, 0.0, 0.4, 2.0, math.inf, 0, 0, 2)]
    found = shoe_score(combine(tests, [0], 1))
    assert found.extra == pytest.approx(1.5)


def test_arrays_must_be_equally_many():
    zeros = np.zeros(2, dtype=np.int64)
    places = TestPlaces(specimen=zeros, shoe_of=zeros, shoes=1, rig=zeros, day=zeros, rigs=1)
    with pytest.raises(ValueError, match="equally many"):
        combine_all(BenchTestScores(np.zeros(2), np.zeros(2), np.zeros(1), np.zeros(2), np.zeros(2)), places, UNLIMITED)
    with pytest.raises(ValueError, match="equally many"):
        TestPlaces(specimen=zeros, shoe_of=zeros, shoes=1, rig=zeros[:1], day=zeros, rigs=1)


@pytest.mark.parametrize(
    ("specimen", "shoe_of", "rig", "name"), [(1, 0, 0, "specimen"), (0, 2, 0, "shoe_of"), (0, 0, 3, "rig")]
)
def test_places_must_be_in_range(specimen, shoe_of, rig, name):
    zero = np.zeros(1, dtype=np.int64)
    with pytest.raises(ValueError, match=f"{name} must hold places from 0"):
        TestPlaces(specimen=zero + specimen, shoe_of=zero + shoe_of, shoes=1, rig=zero + rig, day=zero, rigs=1)
