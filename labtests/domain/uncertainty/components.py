"""Variance components pooled over the catalogue: between tests of a specimen, and between specimens of a shoe."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from core.domain.units import FloatArray, IntArray
from labtests.domain.scores.places import TestPlaces, summed
from labtests.domain.studies.variance import Interval, MeanSquare, between_sd_interval
from labtests.domain.uncertainty.reading_squares import squares_of_products

# What is subtracted from a mean square is known from far more tests than the mean square itself.
WELL_KNOWN_DF = 1e6


@dataclass(frozen=True, slots=True, eq=False)
class LevelSums:
    """Sums of squares of m shoes at one level: df (m,), squares and what lower levels explain of them (m, 4)."""

    df: IntArray
    squares: FloatArray
    explained: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """Sums of squares of one level over all shoes, by the four squares of the readings."""

    shoes: int
    df: float
    squares: FloatArray
    explained: FloatArray

    def changed(self, sums: LevelSums, sign: int) -> Pool:
        """The pool with shoes' sums added (sign 1) or taken out (−1)."""
        return Pool(
            self.shoes + sign * int((sums.df > 0).sum()),
            self.df + sign * int(sums.df.sum()),
            self.squares + sign * sums.squares.sum(axis=0),
            self.explained + sign * sums.explained.sum(axis=0),
        )


NOTHING = Pool(0, 0, np.zeros(4), np.zeros(4))


@dataclass(frozen=True, slots=True)
class Component:
    """A variance component in points²: `raw` as the mean squares give it, `variance` not below 0.

    `mean_square` and `df` are what it is estimated from, over `shoes`; `below` is its part of the sum of squares over
    df in Welch and Satterthwaite's formula, and `component_df` the degrees of freedom that this gives it (None where
    the variance is 0); `sd` with its 95 % interval.
    """

    shoes: int
    df: float
    mean_square: float
    raw: float
    variance: float
    below: float
    component_df: float | None
    sd: Interval


@dataclass(frozen=True, slots=True)
class Homogeneity:
    """Bartlett's test of equal variances: `groups` with a variance above 0, p None below two of them."""

    groups: int
    statistic: float | None
    p: float | None


def sums_of_shoes(
    readings: FloatArray, repeats: FloatArray, places: TestPlaces, setups: FloatArray
) -> tuple[LevelSums, LevelSums]:
    """Sums of squares of tests about their specimens and of specimens about their shoes.

    Parameters
    ----------
    readings : array, shape (n, 3)
        Torque (N·m), deflection (mm) and work (J) of each test.
    repeats : array, shape (n, 4)
        Squares of what repeats leave in them; nan where unknown, which explains nothing.
    places : TestPlaces
        Of the n tests.
    setups : array, shape (rigs, 4)
        Squares of what a day and a set-up on each rig add.

    Returns
    -------
    tuple of LevelSums
        Of tests, explained by repeats alone; and of specimens, explained by repeats and set-ups.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4 (nested levels).
    """
    of, shoe, shoes = places.specimen, places.shoe, places.shoes
    repeats = np.nan_to_num(repeats)
    share = places.share_of_specimen[:, None]
    means = _sums(readings * share, of, len(places.shoe_of))
    tests = LevelSums(
        places.tests_df,
        _sums(squares_of_products(*(readings - means[of]).T), shoe, shoes),
        _sums((1.0 - share) * repeats, shoe, shoes),
    )
    at = places.tested
    shoe_at = places.shoe_of[at]
    mean_of_shoe = _sums(readings * places.weight[:, None], shoe, shoes)
    left = (1.0 - 1.0 / np.maximum(places.specimens, 1))[:, None]
    pairs = places.sessions
    by_sessions = _sums(pairs.between_specimens[:, None] * setups[pairs.rig], pairs.shoe, shoes)
    specimens = LevelSums(
        np.maximum(places.specimens - 1, 0),
        _sums(squares_of_products(*(means[at] - mean_of_shoe[shoe_at]).T), shoe_at, shoes),
        left * _sums(share**2 * repeats, shoe, shoes) + by_sessions,
    )
    return tests, specimens


def _sums(values: FloatArray, group: IntArray, groups: int) -> FloatArray:
    columns = [summed(column, group, groups) for column in values.T]
    return np.column_stack(columns) if columns else np.zeros((groups, 0))


def component(pool: Pool, weights: FloatArray) -> Component | None:
    """Variance component of a score from pooled sums; None without degrees of freedom.

    Parameters
    ----------
    pool : Pool
        Of one level.
    weights : array, shape (4,)
        Of the four squares in the score (`reading_squares.by_model`).

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4: a component is the difference of two mean squares.
    .. [2] Satterthwaite F. E., Biometrics Bulletin 2 (1946) 110.

    Examples
    --------
    >>> pool = Pool(3, 4.0, np.array([8.0, 0, 0, 0]), np.array([2.0, 0, 0, 0]))
    >>> found = component(pool, np.array([1.0, 0, 0, 0]))
    >>> found.mean_square, found.variance, found.component_df
    (2.0, 1.5, 2.25)
    """
    if pool.df <= 0:
        return None
    mean_square, explained = (max(0.0, float(weights @ each)) / pool.df for each in (pool.squares, pool.explained))
    raw = mean_square - explained
    below = mean_square**2 / pool.df if raw > 0.0 else 0.0
    return Component(
        shoes=pool.shoes,
        df=pool.df,
        mean_square=mean_square,
        raw=raw,
        variance=max(0.0, raw),
        below=below,
        component_df=raw**2 / below if below > 0.0 else None,
        sd=between_sd_interval(MeanSquare(1.0, mean_square, pool.df), MeanSquare(1.0, explained, WELL_KNOWN_DF)),
    )


def homogeneity(variances: FloatArray, dfs: FloatArray) -> Homogeneity:
    """Bartlett's test that groups have one variance.

    Parameters
    ----------
    variances : array, shape (g,)
        Of each group; those of 0 are left out, because their logarithm is not finite.
    dfs : array, shape (g,)
        Degrees of freedom, ≥ 1.

    Notes
    -----
    For normal readings. With one degree of freedom in a group it finds differences a little less often than it should.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.7 (Bartlett's test).

    Examples
    --------
    >>> round(homogeneity(np.array([1.0, 4.0]), np.array([9.0, 9.0])).p, 3)
    0.051
    """
    is_known = (variances > 0.0) & (dfs > 0.0)
    v, df = variances[is_known], dfs[is_known]
    groups = len(v)
    if groups < 2:
        return Homogeneity(groups, None, None)
    total = float(df.sum())
    pooled = float(df @ v) / total
    m = total * math.log(pooled) - float(df @ np.log(v))
    correction = 1.0 + (float((1.0 / df).sum()) - 1.0 / total) / (3.0 * (groups - 1))
    statistic = max(0.0, m / correction)
    return Homogeneity(groups, statistic, float(chdtrc(groups - 1, statistic)))
