"""Whether rigs that tested one specimen agree within the uncertainties that they state: E_n numbers."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from core.domain.coverage import UNLIMITED_K, coverage_factor
from labtests.domain.scores.differences import POWER_Z


@dataclass(frozen=True, slots=True)
class RigReading:
    """One test of a specimen: the value, what repeats leave open in it, and what each other source leaves open.

    Standard uncertainties ≥ 0 in the unit of the value; `df` are the effective degrees of freedom of all together, None
    where unlimited.
    """

    value: float
    type_a: float
    type_b: Mapping[str, float]
    df: float | None = None


@dataclass(frozen=True, slots=True)
class RigMean:
    """The mean of a rig's tests of a specimen; `type_a` has become smaller by averaging, `type_b` has not.

    `df` are the fewest degrees of freedom that one of its tests has, None where unlimited.
    """

    rig: str
    n: int
    value: float
    type_a: float
    type_b: Mapping[str, float]
    df: float | None = None


@dataclass(frozen=True, slots=True)
class Agreement:
    """Two rigs: second less first, the expanded uncertainties that count, and E_n (None where both are 0)."""

    first: str
    second: str
    n_first: int
    n_second: int
    difference: float
    expanded_first: float
    expanded_second: float
    en: float | None

    @property
    def expanded(self) -> float:
        """Expanded uncertainty of the difference."""
        return math.hypot(self.expanded_first, self.expanded_second)

    @property
    def is_beyond(self) -> bool:
        """Whether the rigs disagree more than their stated uncertainties allow."""
        return abs(self.difference) > self.expanded

    @property
    def could_find(self) -> float:
        """Difference of the rigs that 8 of 10 such comparisons would show."""
        return self.expanded * (1.0 + POWER_Z / UNLIMITED_K)


def normalised_error(value: float, expanded: float, reference: float, expanded_reference: float) -> float | None:
    """E_n number of a value against a reference value.

    Parameters
    ----------
    value, reference : float
        In one unit.
    expanded, expanded_reference : float
        Their expanded uncertainties, k = 2 or for 95 %, independent of each other; ≥ 0.

    Returns
    -------
    float or None
        Beyond ±1 the two disagree more than they state; None where both uncertainties are 0.

    Raises
    ------
    ValueError
        For an uncertainty below 0 or values that are not finite.

    References
    ----------
    .. [1] ISO 13528:2015, 9.7, and ISO/IEC 17043 (clauses from memory).

    Examples
    --------
    >>> normalised_error(10.5, 0.3, 10.0, 0.4)
    1.0
    """
    if not all(math.isfinite(each) for each in (value, reference, expanded, expanded_reference)):
        raise ValueError("values and expanded uncertainties must be finite")
    if expanded < 0.0 or expanded_reference < 0.0:
        raise ValueError(f"expanded uncertainties must be ≥ 0, got {expanded} and {expanded_reference}")
    together = math.hypot(expanded, expanded_reference)
    return (value - reference) / together if together > 0.0 else None


def mean_of_rig(rig: str, tests: Sequence[RigReading]) -> RigMean:
    """The mean of a rig's tests of one specimen.

    Parameters
    ----------
    rig : str
        Its code.
    tests : sequence of RigReading
        n ≥ 1, in one unit.

    Returns
    -------
    RigMean
        Repeats are independent from test to test; of every other source the largest counts, in full.

    Examples
    --------
    >>> tests = [RigReading(4.0, 0.2, {"gain": 0.1}), RigReading(4.4, 0.2, {"gain": 0.1})]
    >>> mean_of_rig("rig-1", tests).type_b["gain"]
    0.1
    """
    n = len(tests)
    if n == 0:
        raise ValueError("tests must be ≥ 1, got 0")
    type_b: dict[str, float] = {}
    for test in tests:
        for source, u in test.type_b.items():
            type_b[source] = max(u, type_b.get(source, 0.0))
    type_a = math.hypot(*(test.type_a for test in tests)) / n
    df = min((test.df for test in tests if test.df is not None), default=None)
    return RigMean(rig, n, math.fsum(test.value for test in tests) / n, type_a, type_b, df)


def agreement(first: RigMean, second: RigMean, *, shared: frozenset[str]) -> Agreement:
    """Judge two rigs by what they state, without the sources that both share.

    Parameters
    ----------
    first, second : RigMean
        Of one specimen, in one unit.
    shared : frozenset of str
        Sources whose error is one and the same on both rigs, such as a coefficient that both are corrected by: it moves
        both means alike and can't make them differ.

    Examples
    --------
    >>> one = RigMean("a", 1, 4.0, 0.0, {"gain": 0.1, "foam": 9.0})
    >>> two = RigMean("b", 1, 4.5, 0.0, {"gain": 0.1, "foam": 9.0})
    >>> round(agreement(one, two, shared=frozenset({"foam"})).en, 3)
    1.768
    """
    one, other = (coverage_factor(mean.df) * _own(mean, shared) for mean in (first, second))
    return Agreement(
        first=first.rig,
        second=second.rig,
        n_first=first.n,
        n_second=second.n,
        difference=second.value - first.value,
        expanded_first=one,
        expanded_second=other,
        en=normalised_error(second.value, other, first.value, one),
    )


def agreements(means: Sequence[RigMean], *, shared: frozenset[str]) -> tuple[Agreement, ...]:
    """Every pair of rigs, in the order given; see `agreement`.

    Examples
    --------
    >>> means = [RigMean(name, 1, 4.0, 0.1, {}) for name in "abc"]
    >>> [(pair.first, pair.second) for pair in agreements(means, shared=frozenset())]
    [('a', 'b'), ('a', 'c'), ('b', 'c')]
    """
    return tuple(agreement(first, second, shared=shared) for first, second in combinations(means, 2))


def _own(mean: RigMean, shared: frozenset[str]) -> float:
    return math.hypot(mean.type_a, *(u for source, u in mean.type_b.items() if source not in shared))
