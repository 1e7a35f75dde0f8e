"""Agreement of two fitters on the same people: Cohen's kappa, plain or weighted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv, ndtri

Floats = NDArray[np.float64]
Weights = Literal["none", "linear", "quadratic"]

FEW_APART = 5
"""With fewer people than this graded apart (or alike), the standard error for large n can't be trusted."""


@dataclass(frozen=True, slots=True)
class Kappa:
    """Kappa with its n and interval; `standard_error` belongs to the interval, `standard_error_null` to a test.

    `kappa` and what follows from it are None where chance alone already agrees fully. `method` is that of the interval.
    """

    n: int
    weights: Weights
    agreement: float
    expected: float
    kappa: float | None
    standard_error: float | None
    standard_error_null: float | None
    low: float | None
    high: float | None
    confidence: float
    method: str = "large sample (Fleiss, Cohen and Everitt)"


def weighted_kappa(table: ArrayLike, weights: Weights = "none", confidence: float = 0.95) -> Kappa:
    """Agreement beyond chance of two raters on the same people.

    Parameters
    ----------
    table : array_like of int, shape (k, k)
        How many people got grade i from the first rater and grade j from the second; k ≥ 2.
    weights : {"none", "linear", "quadratic"}
        How near misses count: not at all, 1 − |i−j|/(k−1), or 1 − (i−j)²/(k−1)².
    confidence : float
        Between 0 and 1.

    Returns
    -------
    Kappa
        Observed and expected (weighted) agreement, kappa, its standard errors for large n, and its interval.

    Raises
    ------
    ValueError
        When the table is not square with k ≥ 2, holds a negative or no count at all, or an argument is out of range.

    Notes
    -----
    With fewer than five people graded apart, or alike, the interval reaches as far as the exact limits (Clopper and
    Pearson) of the weighted agreement would take kappa, chance agreement as observed: it has a width where all agree.

    References
    ----------
    .. [1] Fleiss J.L., Cohen J., Everitt B.S., Psychol Bull 72:323 (1969).
    .. [2] Clopper C.J., Pearson E.S., Biometrika 26:404 (1934).

    Examples
    --------
    >>> round(weighted_kappa([[20, 5], [10, 15]]).kappa, 6)
    0.4
    """
    counts = _checked(table)
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
    weight = _weight(counts.shape[0], weights)
    n = float(counts.sum())
    share = counts / n
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    chance = np.outer(rows, columns)
    agreement, expected = float((weight * share).sum()), float((weight * chance).sum())
    if 1.0 - expected < 1e-12:
        return Kappa(int(n), weights, agreement, expected, None, None, None, None, None, confidence)
    kappa = (agreement - expected) / (1.0 - expected)
    margin = (weight @ columns)[:, None] + (rows @ weight)[None, :]
    spread = (share * (weight - margin * (1.0 - kappa)) ** 2).sum() - (kappa - expected * (1.0 - kappa)) ** 2
    spread_null = (chance * (weight - margin) ** 2).sum() - expected**2
    error, error_null = (float(np.sqrt(max(v, 0.0) / n)) / (1.0 - expected) for v in (spread, spread_null))
    reach = float(ndtri(0.5 + confidence / 2.0)) * error
    low, high = kappa - reach, min(kappa + reach, 1.0)
    estimate = Kappa(int(n), weights, agreement, expected, kappa, error, error_null, low, high, confidence)
    alike = float(np.trace(counts))
    return _with_exact_limits(estimate, low, high) if min(alike, n - alike) < FEW_APART else estimate


def _with_exact_limits(estimate: Kappa, low: float, high: float) -> Kappa:
    """Widen the interval to the limits of the agreement, which may count near misses in part."""
    tail, alike = (1.0 - estimate.confidence) / 2.0, estimate.n * estimate.agreement
    apart = estimate.n - alike
    least = float(betaincinv(alike, apart + 1.0, tail)) if alike > 0 else 0.0
    most = float(betaincinv(alike + 1.0, apart, 1.0 - tail)) if apart > 0 else 1.0
    exact = [(share - estimate.expected) / (1.0 - estimate.expected) for share in (least, most)]
    method = "exact limits of the agreement (Clopper-Pearson), chance as observed"
    return replace(estimate, low=min(low, exact[0]), high=max(high, exact[1]), method=method)


def _checked(table: ArrayLike) -> Floats:
    counts = np.asarray(table, dtype=np.float64)
    if counts.ndim != 2 or counts.shape[0] != counts.shape[1] or counts.shape[0] < 2:
        raise ValueError(f"table must be square with at least 2 grades, got shape {counts.shape}")
    if not np.all(np.isfinite(counts)) or np.any(counts < 0) or counts.sum() == 0:
        raise ValueError("table must hold counts >= 0 and at least one person")
    return counts


def _weight(k: int, weights: Weights) -> Floats:
    distance = np.abs(np.subtract.outer(np.arange(k), np.arange(k))) / (k - 1)
    if weights == "none":
        return np.eye(k)
    if weights == "linear":
        return np.asarray(1.0 - distance, dtype=np.float64)
    if weights == "quadratic":
        return np.asarray(1.0 - distance**2, dtype=np.float64)
    raise ValueError(f"weights must be none, linear or quadratic, got {weights!r}")
