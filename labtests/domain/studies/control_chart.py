"""Control chart of the check shoe: individuals, limits from the moving range, run rules (Shewhart)."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from core.domain.figures import figure
from core.domain.units import FloatArray
from labtests.domain.studies.series import Series, finite_series

D2_OF_TWO = 1.128
"""Mean range of two normal readings over their standard deviation, 2/√π, as tables print it."""
LIMIT_SIGMAS = 3.0
MIN_POINTS = 10
"""Fewer points give no limits. Our convention: as many as the NIST example has; sources range from 5 to 30."""
TRIAL_BELOW = 20
"""Limits from fewer points are called trial limits (20 to 30 points are usually asked for)."""

BoolArray = npt.NDArray[np.bool_]


class RunRule(StrEnum):
    """The patterns looked for."""

    BEYOND_LIMITS = "beyond_limits"
    TWO_OF_THREE = "two_of_three"
    FOUR_OF_FIVE = "four_of_five"
    EIGHT_ON_ONE_SIDE = "eight_on_one_side"
    SIX_DRIFTING = "six_drifting"


WESTERN_ELECTRIC = (
    RunRule.BEYOND_LIMITS,
    RunRule.TWO_OF_THREE,
    RunRule.FOUR_OF_FIVE,
    RunRule.EIGHT_ON_ONE_SIDE,
)
RULE_WORDS = {
    RunRule.BEYOND_LIMITS: "one point more than 3σ from the centre",
    RunRule.TWO_OF_THREE: "two of three points in a row more than 2σ from the centre, on the same side",
    RunRule.FOUR_OF_FIVE: "four of five points in a row more than 1σ from the centre, on the same side",
    RunRule.EIGHT_ON_ONE_SIDE: "eight points in a row on the same side of the centre",
    RunRule.SIX_DRIFTING: "six points in a row rising, or falling, without a break",
}


@dataclass(frozen=True, slots=True)
class _Pattern:
    """`needed` hits among the last `window` points; a hit is more than `sigmas` σ from the centre."""

    needed: int
    window: int
    sigmas: float


# Six points that drift are five steps the same way; a step is counted at the point it leads to.
_PATTERNS = {
    RunRule.BEYOND_LIMITS: _Pattern(1, 1, LIMIT_SIGMAS),
    RunRule.TWO_OF_THREE: _Pattern(2, 3, 2.0),
    RunRule.FOUR_OF_FIVE: _Pattern(4, 5, 1.0),
    RunRule.EIGHT_ON_ONE_SIDE: _Pattern(8, 8, 0.0),
    RunRule.SIX_DRIFTING: _Pattern(5, 5, 0.0),
}


@dataclass(frozen=True, slots=True)
class Limits:
    """Centre line and limits, and the n points they come from; `is_trial` below 20 points."""

    n: int
    centre: float
    mean_moving_range: float
    sigma: float
    lower: float
    upper: float
    is_trial: bool


@dataclass(frozen=True, slots=True)
class Breach:
    """A rule broken at point `index`, by `points`; both count from 0, `words` from 1."""

    rule: RunRule
    index: int
    points: tuple[int, ...]
    is_above: bool
    words: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart: all values, those excluded, the limits (None with `points_missing` > 0) and what breaks a rule."""

    values: tuple[float, ...]
    excluded: tuple[int, ...]
    limits: Limits | None
    points_missing: int
    breaches: tuple[Breach, ...]

    @property
    def is_in_control(self) -> bool | None:
        """Whether no rule is broken; None while there are no limits to tell by."""
        return None if self.limits is None else not self.breaches


def limits_from(values: Series) -> Limits:
    """Centre line and 3σ limits of an individuals chart.

    Parameters
    ----------
    values : sequence of float, shape (n,)
        In the order of measuring, n ≥ 10 (`MIN_POINTS`), finite.

    Returns
    -------
    Limits
        Centre = mean; sigma = mean moving range of two / 1.128; limits = centre ± 3 sigma, in the unit of the values.

    Raises
    ------
    ValueError
        For too few or not finite values.

    Notes
    -----
    Equal values give sigma 0; any later value that differs is then beyond the limits.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (from memory); the formula in several public pages.

    Examples
    --------
    >>> found = limits_from([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(found.lower, 3), round(found.centre, 2), round(found.upper, 3)
    (45.816, 50.81, 55.804)
    """
    series = finite_series("values", values, at_least=MIN_POINTS)
    moving_range = float(np.abs(np.diff(series)).mean())
    # The mean of equal values can differ from them in the last digit, which would lie outside limits of no width.
    centre = float(series.mean()) if moving_range > 0.0 else float(series[0])
    sigma = moving_range / D2_OF_TWO
    return Limits(
        n=len(series),
        centre=centre,
        mean_moving_range=moving_range,
        sigma=sigma,
        lower=centre - LIMIT_SIGMAS * sigma,
        upper=centre + LIMIT_SIGMAS * sigma,
        is_trial=len(series) < TRIAL_BELOW,
    )


def chart(
    values: Series,
    *,
    baseline: int | None = None,
    excluded: Collection[int] = (),
    rules: Sequence[RunRule] = WESTERN_ELECTRIC,
) -> Chart:
    """Individuals chart of a check shoe on one rig.

    Parameters
    ----------
    values : sequence of float, shape (n,)
        In the order of measuring, finite; any n, also 0.
    baseline : int or None
        How many of the first points give the limits; all of them when None.
    excluded : collection of int
        Positions (from 0) of points with a known cause: shown, but out of the limits and of every run, as if
        the points beside them were neighbours.
    rules : sequence of RunRule
        The four Western Electric rules by default.

    Returns
    -------
    Chart
        Without limits and breaches while fewer than `MIN_POINTS` points can give limits.

    Raises
    ------
    ValueError
        For a position that is not there, a baseline < `MIN_POINTS`, or values that are not finite.

    Notes
    -----
    The four rules together signal about once in 92 points of a process that is in control, 3σ alone once in 370 (known
    limits; Champ and Woodall 1987, from memory).

    References
    ----------
    .. [1] As `limits_from` and `judge`.

    Examples
    --------
    >>> chart([0.0, 1.0] * 5 + [9.0], baseline=10).is_in_control
    False
    >>> chart([0.0, 1.0]).points_missing
    8
    """
    series = finite_series("values", values, at_least=0)
    left_out = _check_positions(excluded, len(series))
    if baseline is not None and baseline < MIN_POINTS:
        raise ValueError(f"baseline must be ≥ {MIN_POINTS}, got {baseline}")
    included = np.setdiff1d(np.arange(len(series)), left_out)
    giving = included if baseline is None else included[included < baseline]
    points = tuple(float(value) for value in series)
    if len(giving) < MIN_POINTS:
        return Chart(points, left_out, None, MIN_POINTS - len(giving), ())
    limits = limits_from(series[giving])
    return Chart(points, left_out, limits, 0, judge(series[included], limits, rules=rules, positions=included))


def _check_positions(excluded: Collection[int], n: int) -> tuple[int, ...]:
    for position in excluded:
        if not 0 <= position < n:
            raise ValueError(f"excluded must hold positions from 0 to {n - 1}, got {position}")
    return tuple(sorted(set(excluded)))


def judge(
    values: Series,
    limits: Limits,
    *,
    rules: Sequence[RunRule] = WESTERN_ELECTRIC,
    positions: npt.NDArray[np.intp] | None = None,
) -> tuple[Breach, ...]:
    """Find every breach of the rules, in the order of the points.

    Parameters
    ----------
    values : sequence of float, shape (n,)
        In the order of measuring.
    limits : Limits
        To judge by; may come from other, earlier values.
    rules : sequence of RunRule
        The four Western Electric rules by default.
    positions : array of int, shape (n,)
        Places of the values on the whole chart; from 0 on where left out.

    Returns
    -------
    tuple of Breach
        A run that goes on is named again at each point.

    References
    ----------
    .. [1] Western Electric Company, Statistical Quality Control Handbook, 1956: the four zone rules, read in several
       public pages; listed in the NIST/SEMATECH e-Handbook, 6.3.2 (from memory), as are six points in a row drifting.

    Examples
    --------
    >>> limits = limits_from([0.0, 1.0] * 5)
    >>> judge([0.5, 9.0], limits)[0].words
    'point 2 (9) is above the upper limit of 3.15957'
    """
    series = finite_series("values", values, at_least=0)
    places_of = np.arange(len(series)) if positions is None else positions
    found: list[Breach] = []
    for rule in rules:
        for is_above in (True, False):
            deviations = series - limits.centre if is_above else limits.centre - series
            broken, hits = _broken(deviations, limits.sigma, rule)
            for end in np.flatnonzero(broken):
                points = tuple(int(places_of[place]) for place in _places(hits, int(end), rule))
                words = _words(rule, points, float(series[end]), limits, is_above=is_above)
                found.append(Breach(rule, points[-1], points, is_above, words))
    return tuple(sorted(found, key=lambda breach: breach.index))


def _broken(deviations: FloatArray, sigma: float, rule: RunRule) -> tuple[BoolArray, BoolArray]:
    """Where the pattern is complete on the side on which deviations are positive, and the hits it is made of."""
    pattern = _PATTERNS[rule]
    if rule is RunRule.SIX_DRIFTING:
        hits = np.diff(deviations, prepend=deviations[:1]) > 0.0
    else:
        hits = deviations > pattern.sigmas * sigma
    up_to = np.cumsum(hits)
    before = np.concatenate([np.zeros(pattern.window, dtype=up_to.dtype), up_to])[: len(up_to)]
    return hits & (up_to - before >= pattern.needed), hits


def _places(hits: BoolArray, end: int, rule: RunRule) -> list[int]:
    start = max(0, end - _PATTERNS[rule].window + 1)
    places = [start + int(step) for step in np.flatnonzero(hits[start : end + 1])]
    return [start - 1, *places] if rule is RunRule.SIX_DRIFTING else places


def _words(rule: RunRule, points: tuple[int, ...], value: float, limits: Limits, *, is_above: bool) -> str:
    side = "above" if is_above else "below"
    first, last = points[0] + 1, points[-1] + 1
    if rule is RunRule.BEYOND_LIMITS:
        edge, at = ("upper", limits.upper) if is_above else ("lower", limits.lower)
        return f"point {last} ({figure(value)}) is {side} the {edge} limit of {figure(at)}"
    if rule is RunRule.EIGHT_ON_ONE_SIDE:
        return f"points {first} to {last}, eight in a row, lie {side} the centre of {figure(limits.centre)}"
    if rule is RunRule.SIX_DRIFTING:
        return f"points {first} to {last}, six in a row, {'rise' if is_above else 'fall'} without a break"
    named = ", ".join(str(point + 1) for point in points[:-1])
    how_many, sigmas = ("two of three", 2) if rule is RunRule.TWO_OF_THREE else ("four of five", 1)
    return f"points {named} and {last}, {how_many} in a row, lie more than {sigmas}σ {side} the centre"
