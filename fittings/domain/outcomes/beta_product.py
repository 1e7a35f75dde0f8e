"""Limits of a survival curve that keep their width where nobody, or everybody, has had the event."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv

Floats = NDArray[np.float64]


def beta_product_limits(
    at_risk: Floats, events: Floats, after: Floats, confidence: float = 0.95
) -> tuple[Floats, Floats]:
    """Limits of the share still free after each of k times.

    Parameters
    ----------
    at_risk : ndarray, shape (k,)
        People at risk just before each time, above 0.
    events : ndarray, shape (k,)
        Events at each time, 0 to `at_risk`.
    after : ndarray, shape (k,)
        People still watched after each time: the lower limit counts on one more event among them.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    tuple of ndarray, shape (k,)
        Lower and upper limits; 0 below where nobody is watched any more, 1 above where no event has come.

    Raises
    ------
    ValueError
        When the confidence is out of range.

    Notes
    -----
    Each time multiplies by a beta variable; the product is matched by one beta variable with its first two moments.
    Without people who leave early the limits are Clopper and Pearson's.

    References
    ----------
    .. [1] Fay M.P., Brittain E.H., Proschan M.A., Biostatistics 14:723 (2013).

    Examples
    --------
    >>> low, high = beta_product_limits(np.array([4.0]), np.array([1.0]), np.array([3.0]))
    >>> round(float(low[0]), 6), round(float(high[0]), 6)
    (0.19412, 0.993691)
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
    tail = (1.0 - confidence) / 2.0
    a, b = at_risk - events + 1.0, events
    log_mean, log_spread = np.cumsum(np.log(a / (a + b))), np.cumsum(np.log1p(b / (a * (a + b + 1.0))))
    high = _quantile(log_mean, log_spread, 1.0 - tail)
    watched = np.maximum(after, 1.0)
    more_mean = np.log(watched / (watched + 1.0))
    more_spread = np.log1p(1.0 / (watched * (watched + 2.0)))
    low = np.where(after > 0, _quantile(log_mean + more_mean, log_spread + more_spread, tail), 0.0)
    return low, high


def _quantile(log_mean: Floats, log_spread: Floats, share: float) -> Floats:
    """Quantile of the beta variable with a mean and with the ratio of its second moment to the mean squared."""
    mean, excess = np.exp(log_mean), np.expm1(log_spread)
    varies = excess > 0
    total = -np.expm1(log_mean) / (mean * np.where(varies, excess, 1.0)) - 1.0
    a, b = mean * total, -np.expm1(log_mean) * total
    return np.where(varies, betaincinv(np.where(varies, a, 1.0), np.where(varies, b, 1.0), share), 1.0)
