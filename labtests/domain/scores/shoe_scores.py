"""Shoes' scores from the results of their tests, many shoes at once, with what the catalogue knows of their scatter."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from core.domain.coverage import limited
from core.domain.units import FloatArray, IntArray
from labtests.domain.scores.places import TestPlaces, summed

# A scatter of its own counts where chance alone gives so much in fewer than one case in twenty.
BEYOND_CHANCE = 0.05
# Stands in for unlimited degrees of freedom where a function needs a number.
MANY = 1e9


@dataclass(frozen=True, slots=True, eq=False)
class BenchTestScores:
    """One score of n tests: value, the two parts of its standard uncertainty and their degrees of freedom.

    Shape (n,); parts nan where unknown, degrees of freedom inf where unlimited.
    """

    value: FloatArray
    type_a: FloatArray
    type_b: FloatArray
    a_df: FloatArray
    b_df: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """What is known of one score's scatter beyond the tests themselves, points².

    `setup2` and `setup_df` of each rig, shape (rigs,), 0 and inf where nothing is known; `specimens2` between specimens
    of a shoe, None where no shoe has two, with `specimens_below`: the sum of squares over df that Welch and
    Satterthwaite's formula takes of it.
    """

    setup2: FloatArray
    setup_df: FloatArray
    specimens2: float | None
    specimens_below: float


@dataclass(frozen=True, slots=True, eq=False)
class ShoeScores:
    """One score of m shoes; shape (m,). A shoe without tests has the value nan and 0 specimens.

    u² = within² + setup² + between² + common² + extra²; u, its parts and df nan where u is unknown, `between` nan where
    nothing is known of how specimens differ; `extra` is the disagreement that the other parts do not explain.
    """

    value: FloatArray
    u: FloatArray
    df: FloatArray
    specimens: IntArray
    within: FloatArray
    setup: FloatArray
    between: FloatArray
    common: FloatArray
    extra: FloatArray


@dataclass(frozen=True, slots=True)
class ShoeScore:
    """One score of one shoe: the row of a `ShoeScores`; None where unknown, df None where unlimited."""

    value: float
    specimens: int
    u: float | None
    df: float | None
    within: float | None
    setup: float | None
    between: float | None
    common: float | None
    extra: float | None


def shoe_score(scores: ShoeScores, place: int = 0) -> ShoeScore:
    """Take one shoe out of many."""
    names = ("u", "within", "setup", "between", "common", "extra")
    known = {name: float(getattr(scores, name)[place]) for name in names}
    return ShoeScore(
        value=float(scores.value[place]),
        specimens=int(scores.specimens[place]),
        df=limited(float(scores.df[place])),
        **{name: None if math.isnan(value) else value for name, value in known.items()},
    )


def combine_all(tests: BenchTestScores, places: TestPlaces, pooled: Pooled) -> ShoeScores:
    """Combine one score of many tests into that of their shoes.

    Parameters
    ----------
    tests : BenchTestScores
        One score of each test.
    places : TestPlaces
        Which specimen, shoe, rig and day each test is of.
    pooled : Pooled
        Of the same score.

    Returns
    -------
    ShoeScores
        The mean over specimens of the means of their tests. Within is what repeats leave in it, set-up what the days
        and set-ups do, between what specimens add, common the calibrations', which no averaging makes smaller. Where
        tests of a specimen, or specimens of a shoe, differ beyond chance from what these explain (F, 5 %), the excess
        widens u by the shoe's own scatter.

    Raises
    ------
    ValueError
        For arrays that are not equally long.

    Notes
    -----
    Where no shoe of the catalogue has two specimens the shoe's own scatter is used for the pooled, n - 1 degrees of
    freedom; of one specimen nothing is known then.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.2.4 (pooled variance), G.4.1 equation G.2b.
    .. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4 and 2.5.3 (nested levels, Type A uncertainties).

    Examples
    --------
    >>> one, unlimited = np.array([1.0, 1.0]), np.array([np.inf, np.inf])
    >>> tests = BenchTestScores(np.array([50.0, 54.0]), one, one / 2, unlimited, unlimited)
    >>> zero = np.array([0, 0])
    >>> places = TestPlaces(specimen=np.array([0, 1]), shoe_of=zero, shoes=1, rig=zero, day=zero, rigs=1)
    >>> found = combine_all(tests, places, Pooled(np.array([0.0]), np.array([np.inf]), None, 0.0))
    >>> found.value.tolist(), found.u.round(3).tolist(), found.df.round(1).tolist()
    ([52.0], [2.062], [1.1])
    """
    _check(tests, places)
    shoes, shoe, specimens = places.shoes, places.shoe, places.specimens
    mean_of_specimen = summed(places.share_of_specimen * tests.value, places.specimen, len(places.shoe_of))
    value = np.where(specimens > 0, summed(places.weight * tests.value, shoe, shoes), np.nan)
    within = places.weight**2 * tests.type_a**2
    within2 = summed(within, shoe, shoes)
    setup2, setup_below = _setup(places, pooled)
    extra_tests = _extra_of_tests(tests, places, pooled, mean_of_specimen)
    extra2 = extra_tests * summed(places.weight**2, shoe, shoes)
    at = places.tested
    of = places.shoe_of[at]
    squares = summed((mean_of_specimen[at] - value[of]) ** 2, of, shoes)
    explained = _explained_between(tests, places, pooled, extra_tests)
    between2, between_below, extra_of_specimens = _between(squares, explained, specimens, pooled)
    extra2 += extra_of_specimens
    common = _largest(tests.type_b, shoe, shoes)
    u2 = within2 + setup2 + np.nan_to_num(between2) + common**2 + extra2
    with np.errstate(invalid="ignore"):
        below = summed(within**2 / tests.a_df, shoe, shoes) + setup_below + between_below
        below += common**4 / _smallest(tests.b_df, shoe, shoes)
    df = np.divide(u2**2, below, out=np.full_like(u2, np.inf), where=below > 0.0)
    has_u = (specimens > 0) & ~np.isnan(u2)
    parts = (within2, setup2, between2, common**2, extra2)
    return ShoeScores(
        value,
        np.where(has_u, np.sqrt(u2), np.nan),
        np.where(has_u, df, np.nan),
        specimens,
        *(np.where(has_u, np.sqrt(part), np.nan) for part in parts),
    )


def _setup(places: TestPlaces, pooled: Pooled) -> tuple[FloatArray, FloatArray]:
    """What days and set-ups leave in each shoe's mean, and its part of the sum of squares over df."""
    pairs = places.sessions
    given = pairs.weight2 * pooled.setup2[pairs.rig]
    return (
        summed(given, pairs.shoe, places.shoes),
        summed(given**2 / pooled.setup_df[pairs.rig], pairs.shoe, places.shoes),
    )


def _extra_of_tests(tests: BenchTestScores, places: TestPlaces, pooled: Pooled, means: FloatArray) -> FloatArray:
    """Variance of a test beyond repeats and set-ups, from how the tests of each specimen differ; 0 within chance."""
    shoe, shoes = places.shoe, places.shoes
    df = places.tests_df
    squares = summed((tests.value - means[places.specimen]) ** 2, shoe, shoes)
    expected = summed((1.0 - places.share_of_specimen) * tests.type_a**2, shoe, shoes)
    pairs = places.sessions
    expected += summed(pairs.within_specimen * pooled.setup2[pairs.rig], pairs.shoe, shoes)
    return _beyond_chance(squares, expected, df, _smallest(tests.a_df, shoe, shoes))


def _explained_between(tests: BenchTestScores, places: TestPlaces, pooled: Pooled, extra: FloatArray) -> FloatArray:
    """The sum of squares of specimens' means that tests alone explain, specimens being alike."""
    shoe, shoes = places.shoe, places.shoes
    share2 = places.share_of_specimen**2 * (tests.type_a**2 + extra[shoe])
    left = 1.0 - 1.0 / np.maximum(places.specimens, 1)
    pairs = places.sessions
    sessions = summed(pairs.between_specimens * pooled.setup2[pairs.rig], pairs.shoe, shoes)
    return summed(share2, shoe, shoes) * left + sessions


def _between(
    squares: FloatArray, explained: FloatArray, specimens: IntArray, pooled: Pooled
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Between specimens: what it adds to the variance of the mean, its part of the sum over df, and what is extra."""
    df, known = np.maximum(specimens - 1, 1), np.maximum(specimens, 1)
    nothing = np.zeros(len(squares))
    if pooled.specimens2 is None:
        own = np.maximum(0.0, squares - explained) / df / known
        own = np.where(specimens > 1, own, np.nan)
        return own, np.nan_to_num((squares / df / known) ** 2 / df * (own > 0.0)), nothing
    expected = pooled.specimens2 * (specimens - 1) + explained
    # The pool's own degrees of freedom, by Welch and Satterthwaite.
    pool_df = pooled.specimens2**2 / pooled.specimens_below if pooled.specimens_below > 0.0 else MANY
    extra = _beyond_chance(squares, expected, specimens - 1, np.full(len(squares), pool_df)) / known
    return pooled.specimens2 / known, pooled.specimens_below / known**2, extra


def _beyond_chance(squares: FloatArray, expected: FloatArray, df: IntArray, expected_df: FloatArray) -> FloatArray:
    """What a mean square has beyond the expected one, where F finds it larger than chance makes it; else 0."""
    counted = np.maximum(df, 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        f = np.where(squares > 0.0, squares / expected, 0.0)
        p = np.where(np.isinf(f), 0.0, fdtrc(counted, np.clip(expected_df, 1.0, MANY), np.where(np.isinf(f), 0.0, f)))
    is_beyond = (df > 0) & (p < BEYOND_CHANCE)
    return np.where(is_beyond, (squares - expected) / counted, 0.0)


def _largest(values: FloatArray, group: IntArray, groups: int) -> FloatArray:
    """The largest value of each group; nan where one is nan, 0 where there is none (nothing here is below 0)."""
    found = np.zeros(groups)
    with np.errstate(invalid="ignore"):
        np.maximum.at(found, group, values)
    return found


def _smallest(values: FloatArray, group: IntArray, groups: int) -> FloatArray:
    """The smallest value of each group, inf where there is none."""
    found = np.full(groups, np.inf)
    with np.errstate(invalid="ignore"):
        np.minimum.at(found, group, values)
    return found


def _check(tests: BenchTestScores, places: TestPlaces) -> None:
    lengths = [len(array) for array in (tests.value, tests.type_a, tests.type_b, tests.a_df, tests.b_df)]
    if set(lengths) != {len(places.specimen)}:
        raise ValueError(f"parts of tests and places must be equally many, got {lengths} and {len(places.specimen)}")
