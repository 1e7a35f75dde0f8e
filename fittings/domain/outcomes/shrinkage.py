"""Many groups at once: each estimate drawn towards what all share, as far as its own data are weak (empirical Bayes).

The luckiest of many small groups looks best and the unluckiest worst by chance alone; drawn in, they no longer do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaincinv, ndtri

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shrunk:
    """An estimate a group after shrinking, with its interval; `between` is the variance of the groups' true values."""

    value: Floats
    low: Floats
    high: Floats
    centre: float
    between: float
    confidence: float
    method: str


def shrink_means(
    mean: ArrayLike, variance: ArrayLike, confidence: float = 0.95, *, centre: float | None = None
) -> Shrunk:
    """Shrink group means towards their common mean, or towards a mean that is known.

    Parameters
    ----------
    mean : array_like, shape (k,)
        Means of the groups, finite.
    variance : array_like, shape (k,)
        Variance of each mean (squared standard error), > 0.
    confidence : float
        Between 0 and 1.

    centre : float or None
        The mean of the groups' true values where it is known; worked out from the groups where left out.

    Returns
    -------
    Shrunk
        Posterior means and normal intervals; all the centre, with intervals of no width, where the groups differ
        by no more than chance.

    Raises
    ------
    ValueError
        When there is no group, a value is not finite, a variance not positive, or the confidence out of range.

    Notes
    -----
    The variance between groups is that of DerSimonian and Laird; its own uncertainty is left out of the intervals.

    References
    ----------
    .. [1] DerSimonian R., Laird N., Control Clin Trials 7:177 (1986); Morris C.N., J Am Stat Assoc 78:47 (1983).

    Examples
    --------
    >>> shrink_means([1.0, 3.0], [0.5, 0.5]).value.round(3).tolist()
    [1.25, 2.75]
    """
    y, v = np.asarray(mean, dtype=np.float64), np.asarray(variance, dtype=np.float64)
    _check(y, v, confidence, "variance")
    between = _between(y, v, centre)
    if centre is None:
        outer = 1.0 / (v + between)
        centre = float((outer * y).sum() / outer.sum())
    own = between / (between + v)
    value = centre + own * (y - centre)
    reach = float(ndtri(0.5 + confidence / 2.0)) * np.sqrt(own * v)
    words = "normal, variance between groups by DerSimonian and Laird"
    return Shrunk(value, value - reach, value + reach, centre, between, confidence, words)


def _between(y: Floats, v: Floats, centre: float | None) -> float:
    """Variance between groups: what is spread about the centre beyond what chance explains."""
    weight = 1.0 / v
    total = float(weight.sum())
    common = float((weight * y).sum() / total) if centre is None else centre
    spread = float((weight * (y - common) ** 2).sum())
    free, scale = (y.size, total) if centre is not None else (y.size - 1, total - float((weight**2).sum()) / total)
    return max(spread - free, 0.0) / scale if scale > 1e-12 * total else 0.0


def shrink_rates(
    events: ArrayLike, expected: ArrayLike, confidence: float = 0.95, *, centre: float | None = None
) -> Shrunk:
    """Shrink ratios of observed to expected events towards their common ratio, or towards one that is known.

    Parameters
    ----------
    events : array_like, shape (k,)
        Events of the groups, 0 or more.
    expected : array_like, shape (k,)
        Events expected of them, > 0.
    confidence : float
        Between 0 and 1.
    centre : float or None
        The ratio of all where it is known, such as 1; worked out from the groups where left out.

    Returns
    -------
    Shrunk
        Posterior means and intervals of a gamma distribution; all the centre, with intervals of no width, where
        the groups differ by no more than chance.

    Raises
    ------
    ValueError
        When there is no group, a value is not finite or out of range, or the confidence is.

    References
    ----------
    .. [1] Clayton D., Kaldor J., Biometrics 43:671 (1987); moments after Marshall R.J., Appl Stat 40:283 (1991).

    Examples
    --------
    >>> shrink_rates([2, 30, 10], [10.0, 10.0, 10.0]).value.round(2).tolist()
    [0.32, 2.84, 1.04]
    """
    o, e = np.asarray(events, dtype=np.float64), np.asarray(expected, dtype=np.float64)
    _check(o, e, confidence, "expected")
    if np.any(o < 0):
        raise ValueError(f"events must be >= 0, got {float(o.min())!r}")
    centre = float(o.sum() / e.sum()) if centre is None else centre
    between = float((e * (o / e - centre) ** 2).sum() / e.sum() - centre / e.mean())
    words = "gamma and Poisson, moments after Marshall"
    if between <= 0 or centre == 0:
        flat = np.full(o.shape, centre)
        return Shrunk(flat, flat, flat, centre, 0.0, confidence, words)
    shape, rate = centre**2 / between + o, centre / between + e
    tail = (1.0 - confidence) / 2.0
    low, high = gammaincinv(shape, tail) / rate, gammaincinv(shape, 1.0 - tail) / rate
    return Shrunk(shape / rate, low, high, centre, between, confidence, words)


def _check(values: Floats, scale: Floats, confidence: float, name: str) -> None:
    if values.ndim != 1 or values.shape != scale.shape or values.size == 0:
        raise ValueError(f"groups must be of one length and at least 1, got {values.shape} and {scale.shape}")
    if not np.all(np.isfinite(values)) or not np.all(np.isfinite(scale)):
        raise ValueError("values must be finite for every group")
    if np.any(scale <= 0):
        raise ValueError(f"{name} must be > 0 for every group, got {float(scale.min())!r}")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
