"""Shoes' scores of many tests at once: the same answers as one by one."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from labtests.domain.scores.shoe_scores import combine_all
from labtests.domain.scores.uncertainty import SpecimenScore, combine_specimens

part = st.one_of(st.just(math.nan), st.floats(0.0, 5.0))
one_test = st.tuples(st.floats(-50.0, 150.0), part, part, st.integers(0, 5))


def one_by_one(tests, shoe_of, shoe):
    """As publishing does it: tests to specimens, specimens to the shoe."""
    specimens = []
    for specimen in sorted({place for *_, place in tests if shoe_of[place] == shoe}):
        own = [test for test in tests if test[3] == specimen]
        value = math.fsum(test[0] for test in own) / len(own)
        is_known = not any(math.isnan(test[1]) or math.isnan(test[2]) for test in own)
        type_a = math.sqrt(math.fsum(test[1] ** 2 for test in own)) / len(own) if is_known else None
        specimens.append(SpecimenScore(value, type_a, max(test[2] for test in own) if is_known else None))
    return combine_specimens(specimens) if specimens else None


@given(st.lists(one_test, max_size=25), st.lists(st.integers(0, 2), min_size=6, max_size=6))
def test_many_at_once_are_as_one_by_one(tests, shoe_of):
    columns = np.array([test[:3] for test in tests], dtype=float).reshape(-1, 3).T
    specimen = np.array([test[3] for test in tests], dtype=np.int64)
    found = combine_all(*columns, specimen=specimen, shoe_of=np.array(shoe_of), shoes=3)
    for shoe in range(3):
        wanted = one_by_one(tests, shoe_of, shoe)
        if wanted is None:
            assert math.isnan(found.value[shoe])
            assert math.isnan(found.u[shoe])
            assert found.specimens[shoe] == 0
            continue
        assert found.value[shoe] == pytest.approx(wanted.value, abs=1e-9)
        assert found.specimens[shoe] == wanted.specimens
        if wanted.u is None:
            assert math.isnan(found.u[shoe])
        else:
            assert found.u[shoe] == pytest.approx(wanted.u, abs=1e-7)


def test_arrays_must_be_equally_many():
    with pytest.raises(ValueError, match="equally many"):
        combine_all(np.zeros(2), np.zeros(2), np.zeros(1), specimen=np.zeros(2, int), shoe_of=np.zeros(1, int), shoes=1)


@pytest.mark.parametrize(("specimen", "shoe_of", "name"), [([1], [0], "specimen"), ([0], [2], "shoe_of")])
def test_places_must_be_in_range(specimen, shoe_of, name):
    one = np.ones(1)
    with pytest.raises(ValueError, match=f"{name} must hold places from 0"):
        combine_all(one, one, one, specimen=np.array(specimen), shoe_of=np.array(shoe_of), shoes=1)
