"""How the control chart of a check shoe is continued: each point is judged by limits from the points before it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from labtests.domain.studies.control_chart import MIN_POINTS, TRIAL_BELOW, Breach, Limits, chart, limits_from
from labtests.domain.studies.series import Series, finite_series

CHECKS_A_YEAR = 250


@dataclass(frozen=True, slots=True)
class FalseAlarms:
    """Alarms of a rig that is in order, a year of 250 checks, both of its charts together."""

    mean: float
    half_below: int
    one_in_twenty_below: int
    one_in_twenty_above: int


FALSE_ALARMS = FalseAlarms(17.0, half_below=12, one_in_twenty_below=3, one_in_twenty_above=50)
"""By simulation (tests/reference/check_chart_rates.py): the limits are estimates from 20 points, so rigs differ much.

With limits that were known the four rules would signal about once in 92 points of a chart (Champ and Woodall 1987, from
memory), which is 5 a year on two charts.
"""
NOTICED_WITHIN = {1.0: 13, 2.0: 4, 3.0: 2}
"""Checks within which 8 of 10 charts with held limits notice a sudden shift by so many σ; by the same simulation."""


@dataclass(frozen=True, slots=True)
class CheckChart:
    """A chart as it was continued from point to point.

    `limits_at` holds for each point the limits that it was judged by, None where there were none or it is excluded;
    `limits` are those for the next point, None with `points_missing` > 0.
    """

    values: tuple[float, ...]
    excluded: tuple[int, ...]
    limits: Limits | None
    limits_at: tuple[Limits | None, ...]
    points_missing: int
    breaches: tuple[Breach, ...]

    @property
    def is_in_control(self) -> bool | None:
        """Whether no rule is broken; None while there are no limits to tell by."""
        return None if self.limits is None else not self.breaches


def check_chart(values: Series, *, excluded: Collection[int] = ()) -> CheckChart:
    """Chart the readings of a check shoe, in the order of testing.

    Parameters
    ----------
    values : sequence of float, shape (n,)
        Readings, one unit, finite; any n.
    excluded : collection of int
        Positions (from 0) of points that a reviewer cleared: in sight, but out of limits and runs.

    Returns
    -------
    CheckChart

    Raises
    ------
    ValueError
        For a position that is not there, or values that are not finite.

    Notes
    -----
    The first 10 points that count are judged by their own limits, the 11th to 20th each by trial limits from all points
    before it, every later one by the limits of the first 20, which are held: so a slow drift does not move the limits
    along with it, a wild point does not widen the limits that it is judged by, and a new point never changes what was
    said of an earlier one.

    References
    ----------
    .. [1] Limits from 20 to 30 points of a process in control, then held: NIST/SEMATECH e-Handbook of Statistical
       Methods, 6.3.1 (from memory). The numbers 10 and 20 are our convention.

    Examples
    --------
    >>> counted = check_chart([4.0, 4.1] * 10 + [5.0])
    >>> counted.limits.n, [breach.index for breach in counted.breaches]
    (20, [20])
    """
    series = finite_series("values", values, at_least=0)
    whole = chart(series, excluded=excluded)
    left_out = set(whole.excluded)
    counted = [position for position in range(len(series)) if position not in left_out]
    if len(counted) < MIN_POINTS:
        nothing = (None,) * len(series)
        return CheckChart(whole.values, whole.excluded, None, nothing, MIN_POINTS - len(counted), ())
    limits_at: list[Limits | None] = [None] * len(series)
    breaches: list[Breach] = []
    for first, last in _stretches(len(counted)):
        baseline = counted[max(MIN_POINTS, min(first, TRIAL_BELOW)) - 1] + 1
        end = counted[last - 1] + 1
        part = chart(series[:end], baseline=baseline, excluded=[place for place in left_out if place < end])
        breaches += [breach for breach in part.breaches if breach.index >= counted[first]]
        for position in counted[first:last]:
            limits_at[position] = part.limits
    ahead = limits_from(series[counted[:TRIAL_BELOW]])
    return CheckChart(whole.values, whole.excluded, ahead, tuple(limits_at), 0, tuple(breaches))


def _stretches(n: int) -> list[tuple[int, int]]:
    """Points (from, up to) that are judged by the same limits: the first 10, the next one by one, the rest."""
    steps = [MIN_POINTS, *range(MIN_POINTS + 1, min(n, TRIAL_BELOW) + 1)]
    if n > TRIAL_BELOW:
        steps.append(n)
    return list(zip([0, *steps[:-1]], steps, strict=True))
