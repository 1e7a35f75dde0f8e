"""Whether the repeats of a test agree: one far from the others, a drift, and more scatter than the rig usually has."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc, stdtr

from core.domain.figures import figure
from core.domain.units import FloatArray
from labtests.domain.curves.curves import STANDARD, Target
from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.scores.protocol import Reason
from labtests.domain.scores.scoring import Model
from labtests.domain.uncertainty.reading_squares import points_per_unit
from labtests.domain.uncertainty.scatter import Scatter

RARE = 0.001
"""A test is held for what the rig's usual scatter gives in fewer than one case in a thousand: each test is checked in
several ways, and a held one can't be published."""
APART = 0.01
"""Of Grubbs' test, which knows only the few repeats of the test itself."""
ODD = 0.05
"""Where the rig's usual scatter is known, an outlier must be odd by that as well."""
MATERIAL_POINTS = 2.5
"""Differences below this many points hold no test, however surely they are there; common practice, no source."""
OUTLIER_FROM, TREND_FROM = 3, 4
POOL_DF_WANTED = 10.0


@dataclass(frozen=True, slots=True)
class _Quantity:
    """Repeats of one reading: their numbers and values, and the rig's usual variance (None unknown)."""

    words: str
    unit: str
    numbers: tuple[int, ...]
    values: FloatArray
    usual: tuple[float, float] | None


def grubbs_p(values: FloatArray) -> float:
    """Probability that the value farthest from the mean is so far by chance, two-sided.

    Parameters
    ----------
    values : array, shape (n,)
        n ≥ 3.

    Returns
    -------
    float
        At most 1 (the bound of Bonferroni, exact where it is small); 1 where all values are equal.

    References
    ----------
    .. [1] Grubbs F. E., Technometrics 11 (1969) 1; NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.

    Examples
    --------
    >>> round(grubbs_p(np.array([1.0, 1.1, 0.9, 5.0])), 4)
    0.0033
    """
    n = len(values)
    if n < OUTLIER_FROM:
        raise ValueError(f"values must be ≥ {OUTLIER_FROM}, got {n}")
    sd = float(values.std(ddof=1))
    if sd == 0.0:
        return 1.0
    g2 = (float(np.abs(values - values.mean()).max()) / sd) ** 2
    left = (n - 1.0) ** 2 - n * g2
    t = math.sqrt(n * (n - 2.0) * g2 / left) if left > 0.0 else math.inf
    return min(1.0, 2.0 * n * float(stdtr(n - 2.0, -t)))


def trend_p(values: FloatArray, usual: tuple[float, float] | None = None) -> float:
    """Probability that values in order rise or fall so steadily by chance, two-sided.

    Parameters
    ----------
    values : array, shape (n,)
        In the order they were measured; n ≥ 3, or ≥ 2 with `usual`.
    usual : tuple of float or None
        A variance known from elsewhere and its degrees of freedom, in the place of the values' own about the line.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1 (t test of a least-squares slope).

    Examples
    --------
    >>> round(trend_p(np.array([1.0, 2.1, 2.9, 4.0])), 4)
    0.0019
    """
    n = len(values)
    x = np.arange(n) - (n - 1) / 2.0
    slope = float(x @ values) / float(x @ x)
    if usual is None:
        rest = values - values.mean() - slope * x
        variance, df = float(rest @ rest) / (n - 2.0), n - 2.0
    else:
        variance, df = usual
    if slope == 0.0:
        return 1.0
    t = abs(slope) * math.sqrt(float(x @ x) / variance) if variance > 0.0 else math.inf
    return 2.0 * float(stdtr(df, -t))


def check_consistency(
    evaluation: Evaluation, pooled: Scatter | None, model: Model, *, target: Target = STANDARD
) -> tuple[Reason, ...]:
    """List what of a test's repeats chance does not explain.

    Parameters
    ----------
    evaluation : Evaluation
        The test.
    pooled : Scatter or None
        Of the rig's other tests; taken from 10 degrees of freedom up.
    model : Model
        Says how many points a difference is worth.
    target : Target
        Of the protocol; names the torque by its angle.

    Returns
    -------
    tuple of Reason
        `repeat_outlier` (Grubbs), `repeat_trend` (slope) and `repeat_scatter` (F against the rig's pooled scatter), at
        most one of them a reading; none below 2.5 points between the repeats.

    Examples
    --------
    >>> from labtests.domain.scores.evaluation import evaluate_readings
    >>> from labtests.domain.scores.scoring import S1
    >>> check_consistency(evaluate_readings([]), None, S1)
    ()
    """
    found = (_check(quantity) for quantity in _material(evaluation, pooled, model, target))
    return tuple(reason for reason in found if reason is not None)


def _material(evaluation: Evaluation, pooled: Scatter | None, model: Model, target: Target) -> Iterator[_Quantity]:
    """The readings of which two repeats or more differ enough to matter."""
    known = pooled if pooled is not None and pooled.df >= POOL_DF_WANTED else None
    midfoot, rearfoot, _ = points_per_unit(model)
    listed = (
        ("torque_15_nm", target.torque_name, "N·m", midfoot, known.torque_nm2 if known else 0.0),
        ("deflection_mm", "heel deflection", "mm", rearfoot, known.deflection_mm2 if known else 0.0),
    )
    for name, words, unit, points, variance in listed:
        read = {one.number: value for one in evaluation.repeats if (value := getattr(one, name)) is not None}
        if len(read) > 1 and (max(read.values()) - min(read.values())) * abs(points) >= MATERIAL_POINTS:
            usual = (variance, known.df) if known is not None and variance > 0.0 else None
            yield _Quantity(words, unit, tuple(read), np.array([*read.values()]), usual)


def _check(quantity: _Quantity) -> Reason | None:
    return _outlier(quantity) or _trend(quantity) or _scatter(quantity)


def _outlier(quantity: _Quantity) -> Reason | None:
    values = quantity.values
    if len(values) < OUTLIER_FROM or grubbs_p(values) >= APART or _scatter_p(quantity) >= ODD:
        return None
    at = int(np.abs(values - values.mean()).argmax())
    others = ", ".join(figure(value, 4) for value in np.delete(values, at))
    message = (
        f"repeat {quantity.numbers[at]}: {quantity.words} is {figure(values[at], 4)} {quantity.unit}, far from "
        f"the others ({others} {quantity.unit}; Grubbs’ test); look for the cause and test again"
    )
    return Reason("repeat_outlier", message)


def _trend(quantity: _Quantity) -> Reason | None:
    values = quantity.values
    if (quantity.usual is None and len(values) < TREND_FROM) or trend_p(values, quantity.usual) >= RARE:
        return None
    if not (np.diff(values) > 0.0).all() and not (np.diff(values) < 0.0).all():
        return None
    message = (
        f"{quantity.words} goes from {figure(values[0], 4)} to {figure(values[-1], 4)} {quantity.unit} from repeat to "
        "repeat, more steadily than by chance; let the foam recover, look at the clamps and test again"
    )
    return Reason("repeat_trend", message)


def _scatter(quantity: _Quantity) -> Reason | None:
    if quantity.usual is None or _scatter_p(quantity) >= RARE:
        return None
    usual, own = quantity.usual[0], float(quantity.values.var(ddof=1))
    message = (
        f"repeats of {quantity.words} scatter by s = {figure(math.sqrt(own), 2)} {quantity.unit}; this rig’s usually "
        f"by {figure(math.sqrt(usual), 2)} {quantity.unit} (F test); look for the cause and test again"
    )
    return Reason("repeat_scatter", message)


def _scatter_p(quantity: _Quantity) -> float:
    """Probability of so much scatter on this rig by chance; 0 where nothing is known of the rig."""
    if quantity.usual is None:
        return 0.0
    usual, df = quantity.usual
    return float(fdtrc(len(quantity.values) - 1.0, df, float(quantity.values.var(ddof=1)) / usual))
