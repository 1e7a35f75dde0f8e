"""Coverage of expanded uncertainties: the factor k and probabilities from degrees of freedom (Student's t)."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy.special import ndtr, stdtr, stdtrit

from core.domain.units import FloatArray

LEVEL = 0.9545
"""The part of true values that ± U covers: about 19 in 20."""
UNLIMITED_K = 2.0
# From here on Student's t and the normal distribution differ by less than the sixth digit.
UNLIMITED_DF = 1e6


def whole_df(df: float | None) -> int | None:
    """Effective degrees of freedom as they are used and shown: cut off to a whole number, at least 1.

    Parameters
    ----------
    df : float or None
        > 0; None or inf where unlimited.

    Returns
    -------
    int or None
        None where unlimited.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), G.4.1, note 1: truncate to the next lower integer.

    Examples
    --------
    >>> whole_df(6.99), whole_df(0.4), whole_df(None)
    (6, 1, None)
    """
    if df is None or df >= UNLIMITED_DF:
        return None
    if not df > 0.0:
        raise ValueError(f"df must be > 0, got {df}")
    return max(1, math.floor(df))


def limited(df: float) -> float | None:
    """Degrees of freedom as they are stored: None where unlimited.

    Examples
    --------
    >>> limited(4.5), limited(math.inf)
    (4.5, None)
    """
    return df if df < UNLIMITED_DF else None


def limited_all(df: FloatArray) -> FloatArray:
    """`limited` of many: nan where unlimited."""
    return np.where(df < UNLIMITED_DF, df, np.nan)


def coverage_factor(df: float | None) -> float:
    """Coverage factor k for 95.45 %: U = k u.

    Parameters
    ----------
    df : float or None
        Effective degrees of freedom, > 0, cut off to a whole number here; None or inf where unlimited, which gives 2.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), G.6.4 and Table G.2.

    Examples
    --------
    >>> round(coverage_factor(4.9), 2), coverage_factor(None)
    (2.87, 2.0)
    """
    return _factor(whole_df(df))


@lru_cache(4096)
def _factor(df: int | None) -> float:
    return UNLIMITED_K if df is None else float(stdtrit(df, (1.0 + LEVEL) / 2.0))


def expanded(u: float | None, df: float | None) -> float | None:
    """Expanded uncertainty U = k u; None where u is not known.

    Examples
    --------
    >>> expanded(0.5, None)
    1.0
    """
    return None if u is None else coverage_factor(df) * u


def whole_dfs(df: FloatArray) -> FloatArray:
    """`whole_df` of many; inf where unlimited (nan or inf given).

    Examples
    --------
    >>> whole_dfs(np.array([6.99, 0.4, np.nan])).tolist()
    [6.0, 1.0, inf]
    """
    is_unlimited = ~(df < UNLIMITED_DF)
    return np.where(is_unlimited, np.inf, np.maximum(1.0, np.floor(np.where(is_unlimited, 1.0, df))))


def coverage_factors(df: FloatArray) -> FloatArray:
    """`coverage_factor` of many; nan or inf where unlimited.

    Examples
    --------
    >>> coverage_factors(np.array([4.9, np.nan])).round(2).tolist()
    [2.87, 2.0]
    """
    whole = whole_dfs(df)
    return np.where(np.isinf(whole), UNLIMITED_K, stdtrit(whole, (1.0 + LEVEL) / 2.0))


def below(x: FloatArray, df: FloatArray | float = math.inf) -> FloatArray:
    """Probability that a standardised true value is below `x`: Student's t, normal where df is unlimited.

    Parameters
    ----------
    x : array
        In standard uncertainties.
    df : array or float
        Effective degrees of freedom, cut off to whole numbers here; nan or inf where unlimited.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.9.2: a scaled and shifted t-distribution.

    Examples
    --------
    >>> float(below(np.array([0.0]), 3.0)[0])
    0.5
    """
    whole = whole_dfs(np.asarray(df, dtype=np.float64))
    if np.isinf(whole).all():
        return np.asarray(ndtr(x), dtype=np.float64)
    return np.asarray(np.where(np.isinf(whole), ndtr(x), stdtr(whole, x)), dtype=np.float64)
