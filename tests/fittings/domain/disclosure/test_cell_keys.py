"""Noise on counts: bounded, of mean zero, none on zeros, the same for the same people."""

from collections import Counter

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.domain.disclosure.cell_keys import LARGEST, VARIANCE, cell_key, noise_table, noisy_count
from fittings.domain.disclosure.differencing import smallest_difference, whole_batches


@pytest.mark.parametrize(("largest", "variance"), [(LARGEST, VARIANCE), (3, 2.0), (8, 9.5), (1, 0.5)])
def test_each_row_has_mean_zero_its_variance_and_no_negative_count(largest, variance):
    table = noise_table(largest, variance)
    assert (table.noise[0], table.upper[0]) == ((0,), (1.0,))
    for count in range(1, len(table.noise)):
        values, share = np.array(table.noise[count]), np.diff([0.0, *table.upper[count]])
        assert share.min() > 0
        assert share @ values == pytest.approx(0, abs=1e-9)
        assert share @ values**2 == pytest.approx(min(count, variance))
        assert min(values) == -min(count, largest)
        assert max(values) == largest


@given(
    st.integers(0, 100_000), st.lists(st.integers(-(2**63), 2**63 - 1), max_size=8), st.binary(min_size=1, max_size=64)
)
def test_noise_is_bounded_and_does_not_depend_on_the_order(count, keys, secret):
    key = cell_key(keys, count, secret)
    assert 0 < key <= 1
    assert key == cell_key(keys[::-1], count, secret) == cell_key(sum(keys), count, secret)
    shown = noisy_count(count, key)
    assert shown >= 0
    assert abs(shown - count) <= LARGEST
    assert count or shown == 0


def test_one_more_person_draws_the_noise_again():
    rng = np.random.default_rng(5)
    noise = []
    for keys in rng.integers(0, 2**63, (4000, 41)).tolist():
        fewer, more = (noisy_count(n, cell_key(keys[:n], n, b"secret")) - n for n in (40, 41))
        noise.append((fewer, more))
    fewer, more = np.array(noise).T
    assert abs(np.corrcoef(fewer, more)[0, 1]) < 0.06
    assert np.mean(fewer) == pytest.approx(0, abs=0.12)
    assert np.var(more) == pytest.approx(VARIANCE, abs=0.3)
    assert len(Counter(more.tolist())) == 2 * LARGEST + 1


@pytest.mark.parametrize(("largest", "variance"), [(0, 1.0), (5, 0.0), (5, 25.0)])
def test_impossible_tables_are_refused(largest, variance):
    with pytest.raises(ValueError, match="must be"):
        noise_table(largest, variance)


@pytest.mark.parametrize(("count", "key"), [(-1, 0.5), (3, 0.0), (3, 1.1), (True, 0.5)])
def test_malformed_counts_and_keys_are_refused(count, key):
    with pytest.raises(ValueError, match="count must be"):
        noisy_count(count, key)


def test_difference_is_taken_to_every_wider_selection_and_to_the_state_before():
    # Two conditions and three periods: first axis the one, second axis the other.
    people = [[[0, 0, 0], [7, 0, 0]], [[0, 6, 0], [9, 9, 9]]]
    assert smallest_difference(people, 0, 3) == 6
    assert smallest_difference(people, 1, 2) == 6
    assert smallest_difference(people, 0, 2) == 6
    assert smallest_difference([[[0] * 3, [0] * 3], [[0] * 3, [9, 9, 2]]], 0, 3) == 2
    assert smallest_difference([4], 0, 1) is None
    assert smallest_difference([4, 0, 3], 0, 1) == 3


@given(st.lists(st.integers(0, 20), min_size=1, max_size=5), st.lists(st.integers(0, 20), min_size=1, max_size=5))
def test_difference_is_the_smallest_of_all_unions(inside, outside):
    periods = min(len(inside), len(outside))
    own, rest = inside[:periods], outside[:periods]
    wider = {sum(own[a:b]) for a in range(1) for b in [periods]} | {sum(own) + sum(rest)}
    wider |= {sum(own[: periods - 1])} if periods > 1 else set()
    expected = min((abs(n - sum(own)) for n in wider if n != sum(own)), default=None)
    assert smallest_difference([rest, own], 0, periods) == expected


def test_malformed_selections_are_refused():
    with pytest.raises(ValueError, match="two places"):
        smallest_difference([[1], [2], [3]], 0, 1)
    with pytest.raises(ValueError, match="periods in order"):
        smallest_difference([1, 2], 1, 1)
    with pytest.raises(ValueError, match="least must be"):
        whole_batches([1], 0)


def test_batches_wait_until_they_are_whole():
    assert whole_batches([], 5) is None
    assert whole_batches([3] * 4, 5) is None
    assert whole_batches([3] * 4 + [6], 5) == 7
    assert whole_batches([3] * 5 + [6], 5) == 4
