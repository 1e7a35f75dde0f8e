"""How alike two measured shoes are, and what differs between them beyond what the measurements can tell.

Six features are compared: the four scores, the mass and the drop. Each difference is divided by how far shoes of the
catalogue lie apart in that feature and by how well the two are known, so that no feature leads because of its unit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

FEATURES = ("stability", "midfoot", "rearfoot", "cushioning", "mass_g", "drop_mm")
COVERAGE_K = 2.0

Floats = NDArray[np.float64]
Verdict = Literal["same", "within", "beyond", "unknown", "missing"]


@dataclass(frozen=True, slots=True)
class Neighbour:
    """A near shoe: its row in the table, its distance, and how many features were compared."""

    index: int
    distance: float
    features: int


@dataclass(frozen=True, slots=True)
class Difference:
    """One feature of two shoes.

    `difference` is there − here; `expanded_u` is its expanded uncertainty (k = 2); `share` is the part of the squared
    distance that this feature makes, 0 to 1. The verdict is "same" (no difference), "within" the uncertainty,
    "beyond" it, "unknown" where the uncertainty of either is not known, "missing" where a value is.
    """

    feature: str
    here: float | None
    there: float | None
    difference: float | None
    expanded_u: float | None
    share: float | None
    verdict: Verdict


def _check(values: Floats, u: Floats) -> None:
    if values.ndim != 2 or values.shape[1] != len(FEATURES):
        raise ValueError(f"values must have shape (n, {len(FEATURES)}), got {values.shape}")
    if u.shape != values.shape:
        raise ValueError(f"u must have the shape of values, {values.shape}, got {u.shape}")
    if np.isinf(values).any() or np.isinf(u).any():
        raise ValueError("values and u must be finite or nan, got inf")
    if (u < 0).any():
        raise ValueError(f"u must be >= 0, got {np.nanmin(u)}")


def spreads(values: ArrayLike) -> Floats:
    """Return how far shoes lie apart in each feature: the sample standard deviation.

    Parameters
    ----------
    values : array_like, shape (n, 6)
        In the order of `FEATURES`, nan where not measured.

    Returns
    -------
    ndarray, shape (6,)
        In each feature's unit; 0 where fewer than two shoes have a value.

    Examples
    --------
    >>> spreads([[40, 50, 30, 60, 280, 8], [60, 70, 50, 60, 300, float("nan")]]).round(3).tolist()
    [14.142, 14.142, 14.142, 0.0, 14.142, 0.0]
    """
    table = np.asarray(values, dtype=np.float64)
    known = (~np.isnan(table)).sum(axis=0)
    means = np.where(known > 0, np.nansum(table, axis=0) / np.maximum(known, 1), 0.0)
    squares = np.nansum((table - means) ** 2, axis=0)
    spread: Floats = np.sqrt(squares / np.maximum(known - 1, 1))
    return spread


def _squared_parts(values: Floats, u: Floats, index: int) -> Floats:
    """Return the squared, scaled differences of every row from one row, nan where they can't be compared."""
    known_u = np.nan_to_num(u, nan=0.0)
    scale = spreads(values) ** 2 + known_u**2 + known_u[index] ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        parts: Floats = np.where(scale > 0, (values - values[index]) ** 2 / scale, np.nan)
    return parts


def distances(values: ArrayLike, u: ArrayLike, index: int) -> Floats:
    """Return the distance of every shoe from one of them.

    Parameters
    ----------
    values : array_like, shape (n, 6)
        In the order of `FEATURES`, nan where not measured.
    u : array_like, shape (n, 6)
        Standard uncertainties, nan where not known (then nothing is added for them).
    index : int
        The row to measure from.

    Returns
    -------
    ndarray, shape (n,)
        Root mean square over the features that both shoes have of difference / √(s² + u₁² + u₂²), s the spread of the
        catalogue. Dimensionless; 1 means "as far as shoes usually lie apart". nan where nothing can be compared.

    Raises
    ------
    ValueError
        Wrong shape, an infinite value, a negative uncertainty.

    Notes
    -----
    Without uncertainties this is the standardized Euclidean distance divided by √(number of features); the mean
    instead of the sum keeps a shoe with a missing value comparable. Dividing by the uncertainty too is our own.

    Examples
    --------
    >>> table = [[40, 50, 30, 60, 280, 8], [60, 70, 50, 60, 300, 8]]
    >>> nothing = [[float("nan")] * 6] * 2
    >>> distances(table, nothing, 0).round(4).tolist()
    [0.0, 1.4142]
    """
    table, known = np.asarray(values, dtype=np.float64), np.asarray(u, dtype=np.float64)
    _check(table, known)
    parts = _squared_parts(table, known, index)
    compared = (~np.isnan(parts)).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        result: Floats = np.sqrt(np.nansum(parts, axis=1) / compared)
    return result


def nearest(values: ArrayLike, u: ArrayLike, index: int, count: int | None = None) -> tuple[Neighbour, ...]:
    """Return the nearest other shoes, nearest first; equally near ones in the order of the table.

    Parameters
    ----------
    values, u : array_like, shape (n, 6)
        As for `distances`.
    index : int
        The row of the shoe.
    count : int or None
        How many at most; None for all that can be compared.

    Examples
    --------
    >>> table = [[40, 50, 30, 60, 280, 8], [60, 70, 50, 60, 300, 8], [42, 52, 30, 60, 281, 8]]
    >>> [near.index for near in nearest(table, [[1.0] * 6] * 3, 0)]
    [2, 1]
    """
    table, known = np.asarray(values, dtype=np.float64), np.asarray(u, dtype=np.float64)
    far = distances(table, known, index)
    features = (~np.isnan(_squared_parts(table, known, index))).sum(axis=1)
    order = [int(row) for row in np.argsort(far, kind="stable") if row != index and not math.isnan(far[row])]
    return tuple(Neighbour(row, float(far[row]), int(features[row])) for row in order[:count])


def difference_u(u_here: float | None, u_there: float | None) -> float | None:
    """Return the expanded uncertainty (k = 2) of the difference of two independent values; None where one is unknown.

    Examples
    --------
    >>> difference_u(3.0, 4.0)
    10.0
    """
    if u_here is None or u_there is None:
        return None
    return COVERAGE_K * math.hypot(u_here, u_there)


def verdict(difference: float | None, expanded_u: float | None) -> Verdict:
    """Say what a difference amounts to: it is "within" where |difference| ≤ its expanded uncertainty.

    Notes
    -----
    The criterion of the E_n number, |E_n| ≤ 1.

    References
    ----------
    .. [1] ISO 13528, E_n scores; NIST Dataplot reference manual, "ISO 13528 EN SCORE".

    Examples
    --------
    >>> verdict(2.0, 2.5), verdict(-3.0, 2.5)
    ('within', 'beyond')
    """
    if difference is None:
        return "missing"
    if difference == 0:
        return "same"
    if expanded_u is None:
        return "unknown"
    return "within" if abs(difference) <= expanded_u else "beyond"


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)


def explain(values: ArrayLike, u: ArrayLike, here: int, there: int) -> tuple[Difference, ...]:
    """Tell two shoes apart, feature by feature, in the order of `FEATURES`.

    Parameters
    ----------
    values, u : array_like, shape (n, 6)
        As for `distances`; the whole catalogue, since its spread says what counts.
    here, there : int
        Rows of the two shoes.

    Examples
    --------
    >>> table = [[40, 50, 30, 60, 280, 8], [60, 70, 50, 60, 300, 8]]
    >>> [part.verdict for part in explain(table, [[1.0] * 6] * 2, 0, 1)]
    ['beyond', 'beyond', 'beyond', 'same', 'beyond', 'same']
    """
    table, known = np.asarray(values, dtype=np.float64), np.asarray(u, dtype=np.float64)
    _check(table, known)
    parts = _squared_parts(table, known, here)[there]
    total = float(np.nansum(parts))
    found = []
    for column, feature in enumerate(FEATURES):
        first, second = _number(table[here, column]), _number(table[there, column])
        difference = None if first is None or second is None else second - first
        expanded = difference_u(_number(known[here, column]), _number(known[there, column]))
        part = _number(parts[column])
        share = None if part is None else (part / total if total else 0.0)
        found.append(Difference(feature, first, second, difference, expanded, share, verdict(difference, expanded)))
    return tuple(found)
