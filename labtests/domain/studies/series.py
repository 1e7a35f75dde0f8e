"""Checks of a row of numbers before it is computed with: the message says name, bound and value."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from core.domain.units import FloatArray

Series = Sequence[float] | FloatArray


def finite_series(name: str, values: Series, *, at_least: int = 1) -> FloatArray:
    """Return the values as a one-dimensional array when they are finite numbers and enough of them.

    Parameters
    ----------
    name : str
        What the values are, with their unit; opens the message.
    values : sequence of float, shape (n,)
        Finite.
    at_least : int
        Smallest n accepted.

    Returns
    -------
    array, shape (n,)

    Raises
    ------
    TypeError
        When they are no numbers.
    ValueError
        When they are too few, not in one row, or not finite.

    Examples
    --------
    >>> finite_series("worn_km", [0, 100]).tolist()
    [0.0, 100.0]
    """
    try:
        series = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise TypeError(f"{name} must be numbers, got {values!r}") from None
    if series.ndim != 1:
        raise ValueError(f"{name} must be one row of numbers, got shape {series.shape}")
    if len(series) < at_least:
        raise ValueError(f"{name} must hold ≥ {at_least} values, got {len(series)}")
    bad = np.flatnonzero(~np.isfinite(series))
    if len(bad):
        raise ValueError(f"{name} must be finite, got {series[bad[0]]} as value {bad[0] + 1}")
    return series


def check_fraction(name: str, value: float) -> float:
    """Return `value` when it is between 0 and 1, both left out (a significance or confidence level).

    Examples
    --------
    >>> check_fraction("level", 0.95)
    0.95
    """
    if not 0.0 < value < 1.0:
        raise ValueError(f"{name} must be > 0 and < 1, got {value}")
    return value
