"""Noise on published counts that depends on who is counted: the same people always give the same number."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import root

LARGEST = 5
VARIANCE = 4.0
RECORD_KEYS = 2**64
"""Record keys are whole numbers, added up modulo this."""


@dataclass(frozen=True, slots=True)
class NoiseTable:
    """Noise by the count it is added to, a row a count from 0 up; the last row serves all larger counts.

    `noise` are the possible values of a row and `upper` the cell keys up to which each is taken, ascending to 1.
    """

    noise: tuple[tuple[int, ...], ...]
    upper: tuple[tuple[float, ...], ...]


@cache
def noise_table(largest: int = LARGEST, variance: float = VARIANCE) -> NoiseTable:
    """Noise of mean zero that leaves zeros as they are and makes no count negative.

    Parameters
    ----------
    largest : int
        The largest change of a count, 1 or more.
    variance : float
        Variance of the noise, people squared; counts below it get noise of a variance equal to the count.

    Returns
    -------
    NoiseTable
        Rows for 0 up to the larger of `largest` and `variance`.

    Raises
    ------
    ValueError
        When a value is out of range or no noise of that variance stays within `largest`.

    Notes
    -----
    Each row is the distribution of the highest entropy with mean zero and the variance asked for.

    References
    ----------
    .. [1] Handbook on Statistical Disclosure Control, section 5.4 (cell key method),
       sdctools.github.io/HandbookSDC/05-frequency-tables.html.
    .. [2] Fraser B., Wooton J. (2005) and Giessing S. (2016), named there: the method, and rows of highest entropy.

    Examples
    --------
    >>> table = noise_table()
    >>> table.noise[0], table.noise[1], table.noise[-1][0]
    ((0,), (-1, 0, 1, 2, 3, 4, 5), -5)
    """
    if largest < 1 or not 0 < variance < largest**2:
        raise ValueError(f"largest must be >= 1 and variance between 0 and its square, got {largest} and {variance}")
    rows = max(largest, math.ceil(variance))
    noise: list[tuple[int, ...]] = [(0,)]
    upper: list[tuple[float, ...]] = [(1.0,)]
    for count in range(1, rows + 1):
        values = tuple(range(-min(count, largest), largest + 1))
        share = _flattest(np.array(values, dtype=np.float64), min(float(count), variance))
        noise.append(values)
        upper.append((*np.cumsum(share)[:-1].tolist(), 1.0))
    return NoiseTable(tuple(noise), tuple(upper))


def _flattest(values: NDArray[np.float64], variance: float) -> NDArray[np.float64]:
    """Shares of the highest entropy with mean 0 and a variance: exponentials of a quadratic."""

    def shares(given: NDArray[np.float64]) -> NDArray[np.float64]:
        power = given[0] * values + given[1] * values**2
        weights = np.exp(power - power.max())
        return np.asarray(weights / weights.sum(), dtype=np.float64)

    def missed(given: NDArray[np.float64]) -> NDArray[np.float64]:
        share = shares(given)
        return np.array([share @ values, share @ values**2 - variance])

    solved = root(missed, np.array([0.0, -0.5 / variance]), tol=1e-13)
    if np.abs(missed(solved.x)).max() > 1e-9:
        raise ValueError(f"no noise from {values[0]:g} to {values[-1]:g} has the variance {variance:g}")
    return shares(solved.x)


def cell_key(record_keys: Sequence[int] | int, count: int, secret: bytes) -> float:
    """Key of a cell from the record keys of the people counted in it.

    Parameters
    ----------
    record_keys : int or sequence of int
        The record keys, or their sum.
    count : int
        How many people are counted, 0 or more.
    secret : bytes
        Up to 64 bytes.

    Returns
    -------
    float
        Above 0 and at most 1, evenly spread.

    Raises
    ------
    Nothing.

    Notes
    -----
    The published method takes the fraction of the sum itself. Then one more person moves every key by the same amount;
    hashing the sum with a secret makes the keys of nearly the same people independent.

    Examples
    --------
    >>> cell_key([7, 5], 2, b"secret") == cell_key(12, 2, b"secret") != cell_key(13, 2, b"secret")
    True
    """
    total = (record_keys if isinstance(record_keys, int) else sum(record_keys)) % RECORD_KEYS
    digest = hashlib.blake2b(f"{total}:{count}".encode(), key=secret, digest_size=8).digest()
    return ((int.from_bytes(digest) >> 11) + 1) / 2**53


def noisy_count(count: int, key: float, table: NoiseTable | None = None) -> int:
    """A count with the noise that its key picks.

    Parameters
    ----------
    count : int
        0 or more.
    key : float
        Above 0 and at most 1, as `cell_key` gives it.
    table : NoiseTable, optional
        `noise_table()` where left out.

    Returns
    -------
    int
        0 for 0, never below 0.

    Raises
    ------
    ValueError
        When a value is out of range.

    Examples
    --------
    >>> noisy_count(0, 0.9), noisy_count(40, 0.5), noisy_count(40, 1.0)
    (0, 40, 45)
    """
    if isinstance(count, bool) or count < 0 or not 0 < key <= 1:
        raise ValueError(f"count must be >= 0 and key above 0 and at most 1, got {count} and {key}")
    table = table or noise_table()
    row = min(count, len(table.noise) - 1)
    return count + table.noise[row][int(np.searchsorted(table.upper[row], key, side="left"))]
