"""Which specimen, shoe, rig and day each of many tests is of, and how much it weighs in the mean of its shoe."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from core.domain.units import FloatArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Sessions:
    """What the days on each rig do to each shoe; shape (pairs,), a row for each shoe and rig.

    Each column times the variance of a day is a sum of squares: `weight2` in the mean of the shoe, `within_specimen`
    about the means of its specimens, `between_specimens` of those about the mean of the shoe.
    """

    shoe: IntArray
    rig: IntArray
    weight2: FloatArray
    within_specimen: FloatArray
    between_specimens: FloatArray


@dataclass(frozen=True, eq=False)
class TestPlaces:
    """Places of n tests among k specimens, m shoes and some rigs, each from 0.

    Parameters
    ----------
    specimen : array of int, shape (n,)
        Place in `shoe_of`.
    shoe_of : array of int, shape (k,)
        Which shoe each specimen is of, below `shoes`.
    rig, day : array of int, shape (n,)
        Rig (below `rigs`) and day; tests on one rig on one day share what the day does to it.

    Raises
    ------
    ValueError
        For arrays that are not equally long, or places outside their range.
    """

    __test__ = False

    specimen: IntArray
    shoe_of: IntArray
    shoes: int
    rig: IntArray
    day: IntArray
    rigs: int

    def __post_init__(self) -> None:
        lengths = [len(array) for array in (self.specimen, self.rig, self.day)]
        if len(set(lengths)) > 1:
            raise ValueError(f"specimen, rig and day must be equally many, got {lengths}")
        _check_places("specimen", self.specimen, len(self.shoe_of))
        _check_places("shoe_of", self.shoe_of, self.shoes)
        _check_places("rig", self.rig, self.rigs)

    @cached_property
    def shoe(self) -> IntArray:
        """Which shoe each test is of."""
        return self.shoe_of[self.specimen]

    @cached_property
    def tests(self) -> IntArray:
        """How many tests each specimen has."""
        return np.bincount(self.specimen, minlength=len(self.shoe_of)).astype(np.int64)

    @cached_property
    def tested(self) -> IntArray:
        """The specimens that have tests."""
        return np.flatnonzero(self.tests)

    @cached_property
    def specimens(self) -> IntArray:
        """How many tested specimens each shoe has."""
        return np.bincount(self.shoe_of[self.tested], minlength=self.shoes).astype(np.int64)

    @cached_property
    def tests_df(self) -> IntArray:
        """Degrees of freedom of tests about the means of their specimens, by shoe."""
        return np.bincount(self.shoe, minlength=self.shoes).astype(np.int64) - self.specimens

    @cached_property
    def share_of_specimen(self) -> FloatArray:
        """How much a test weighs in the mean of its specimen."""
        share: FloatArray = 1.0 / self.tests[self.specimen]
        return share

    @cached_property
    def weight(self) -> FloatArray:
        """How much a test weighs in the mean of its shoe."""
        weight: FloatArray = self.share_of_specimen / self.specimens[self.shoe]
        return weight

    @cached_property
    def sessions(self) -> Sessions:
        """What the days on each rig do to each shoe."""
        session = self._numbered(self.shoe, self.rig, self.day)
        of_session = self._first(session)
        weight = summed(self.weight, session, len(of_session))
        cell = self._numbered(self.specimen, session)
        of_cell = self._first(cell)
        share = summed(self.share_of_specimen, cell, len(of_cell))
        tests = self.tests[self.specimen[of_cell]]
        pair = self._numbered(self.shoe, self.rig)
        of_pair = self._first(pair)
        shares2 = summed(share**2, pair[of_cell], len(of_pair))
        weight2 = summed(weight**2, pair[of_session], len(of_pair))
        return Sessions(
            shoe=self.shoe[of_pair],
            rig=self.rig[of_pair],
            weight2=weight2,
            within_specimen=summed(tests * share * (1.0 - share), pair[of_cell], len(of_pair)),
            between_specimens=shares2 - self.specimens[self.shoe[of_pair]] * weight2,
        )

    @staticmethod
    def _numbered(*keys: IntArray) -> IntArray:
        """Number the combinations of keys from 0."""
        found = np.zeros(len(keys[0]), dtype=np.int64)
        for key in keys:
            if len(key):
                found = found * (int(key.max() - key.min()) + 1) + (key - key.min())
                found = np.unique(found, return_inverse=True)[1].reshape(-1)
        return found

    @staticmethod
    def _first(numbers: IntArray) -> IntArray:
        """Where each number is first."""
        return np.unique(numbers, return_index=True)[1]


def summed(values: FloatArray, group: IntArray, groups: int) -> FloatArray:
    """Sum the values of each group; 0 where it has none.

    Examples
    --------
    >>> summed(np.array([1.0, 2.0, 4.0]), np.array([0, 2, 2]), 3).tolist()
    [1.0, 0.0, 6.0]
    """
    return np.asarray(np.bincount(group, values, groups), dtype=np.float64)


def _check_places(name: str, places: IntArray, count: int) -> None:
    if places.size and not 0 <= places.min() <= places.max() < count:
        raise ValueError(f"{name} must hold places from 0 to {count - 1}, got {places.min()} to {places.max()}")
