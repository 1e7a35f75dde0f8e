"""Shoes' scores from the results of many tests at once: `combine_specimens` on arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from core.domain.units import FloatArray

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class ShoeScores:
    """One score of m shoes: the means over their specimens, u (nan where unknown), and how many specimens; shape (m,).

    A shoe without tests has the value nan and 0 specimens.
    """

    value: FloatArray
    u: FloatArray
    specimens: IntArray


def combine_all(
    value: FloatArray, type_a: FloatArray, type_b: FloatArray, *, specimen: IntArray, shoe_of: IntArray, shoes: int
) -> ShoeScores:
    """Combine one score of many tests into that of their shoes.

    Parameters
    ----------
    value, type_a, type_b : array, shape (n,)
        A score of each test and the two parts of its standard uncertainty, nan where unknown.
    specimen : array of int, shape (n,)
        Which specimen each test is of, as a place in `shoe_of`.
    shoe_of : array of int, shape (k,)
        Which shoe each specimen is of, from 0 to `shoes` - 1.
    shoes : int
        m, how many shoes there are.

    Returns
    -------
    ShoeScores
        What `combine_specimens` gives for each shoe from the means of its specimens' tests, whose repeats average out
        and whose calibrations do not.

    Raises
    ------
    ValueError
        For arrays that are not equally long, or places outside their range.

    References
    ----------
    .. [1] As `labtests.domain.scores.uncertainty.combine_specimens`.

    Examples
    --------
    >>> one = np.array([1.0, 1.0])
    >>> found = combine_all(np.array([50.0, 54.0]), one, one / 2, specimen=np.array([0, 1]), shoe_of=np.array([0, 0]),
    ...     shoes=1)
    >>> found.value.tolist(), found.u.round(3).tolist(), found.specimens.tolist()
    ([52.0], [2.062], [2])
    """
    _check(value, type_a, type_b, specimen)
    _check_places("specimen", specimen, len(shoe_of))
    _check_places("shoe_of", shoe_of, shoes)
    tests = np.bincount(specimen, minlength=len(shoe_of))
    tested = np.flatnonzero(tests)
    of, n = shoe_of[tested], tests[tested]
    # What is unknown of one test is unknown of its specimen and its shoe: nan spreads through the sums by itself.
    mean = np.bincount(specimen, value, len(shoe_of))[tested] / n
    within2 = np.bincount(specimen, type_a**2, len(shoe_of))[tested] / n**2
    common = _largest(type_b, specimen, len(shoe_of))[tested]
    return _of_shoes(mean, within2, common, of=of, shoes=shoes)


def _of_shoes(mean: FloatArray, within2: FloatArray, common: FloatArray, *, of: IntArray, shoes: int) -> ShoeScores:
    specimens = np.bincount(of, minlength=shoes)
    known = np.maximum(specimens, 1)
    value = np.where(specimens > 0, np.bincount(of, mean, shoes) / known, np.nan)
    within2 = np.bincount(of, within2, shoes) / known**2
    squares = np.bincount(of, (mean - value[of]) ** 2, shoes)
    variance = squares / np.maximum(specimens - 1, 1)
    between2 = np.maximum(0.0, variance / known - within2)
    u = np.sqrt(within2 + between2 + _largest(common, of, shoes) ** 2)
    return ShoeScores(value, np.where(specimens > 0, u, np.nan), specimens)


def _largest(values: FloatArray, group: IntArray, groups: int) -> FloatArray:
    """The largest value of each group; nan where one is nan, 0 where there is none (nothing here is below 0)."""
    found = np.zeros(groups)
    with np.errstate(invalid="ignore"):
        np.maximum.at(found, group, values)
    return found


def _check(value: FloatArray, type_a: FloatArray, type_b: FloatArray, specimen: IntArray) -> None:
    lengths = [len(array) for array in (value, type_a, type_b, specimen)]
    if len(set(lengths)) > 1:
        raise ValueError(f"value, type_a, type_b and specimen must be equally many, got {lengths}")


def _check_places(name: str, places: IntArray, count: int) -> None:
    if places.size and not 0 <= places.min() <= places.max() < count:
        raise ValueError(f"{name} must hold places from 0 to {count - 1}, got {places.min()} to {places.max()}")
