"""Rates with their intervals, and the hiding of small cells.

Observational data: what is computed here shows association, not what a shoe does.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import gammaincinv

SMALL_CELL = 5
"""Counts under this are hidden where stores are added up."""

TOO_FEW_EVENTS = 10
"""Fewer events than this in a group: the comparison is named as too few to say; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Rate:
    """Events per 1000 km with an exact Poisson interval; the rate is None where there was no exposure."""

    events: int
    exposure_km: float
    per_1000_km: float | None
    low: float | None
    high: float | None
    confidence: float
    method: str = "exact Poisson (Garwood 1936)"


def poisson_interval(events: int, confidence: float = 0.95) -> tuple[float, float]:
    """Exact two-sided limits of a Poisson mean.

    Parameters
    ----------
    events : int
        Events seen, 0 or more.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    tuple of float
        Lower and upper limit; the lower one is 0 for no events.

    Raises
    ------
    ValueError
        When a value is out of range.

    References
    ----------
    .. [1] Garwood F., Biometrika 28:437 (1936).

    Examples
    --------
    >>> round(poisson_interval(0)[1], 6)
    3.688879
    """
    _check_count("events", events)
    _check_confidence(confidence)
    tail = (1.0 - confidence) / 2.0
    low = 0.0 if events == 0 else float(gammaincinv(events, tail))
    return low, float(gammaincinv(events + 1, 1.0 - tail))


def rate_per_1000_km(events: int, exposure_km: float, confidence: float = 0.95) -> Rate:
    """Rate of events per 1000 km.

    Parameters
    ----------
    events : int
        Events seen, 0 or more.
    exposure_km : float
        Distance covered by all the people at risk, km, 0 or more.
    confidence : float
        Between 0 and 1.

    Returns
    -------
    Rate
        Per 1000 km, with its exact interval; None three times where the distance is 0.

    Raises
    ------
    ValueError
        When a value is out of range.

    Examples
    --------
    >>> rate_per_1000_km(10, 2500).per_1000_km
    4.0
    """
    low, high = poisson_interval(events, confidence)
    if not math.isfinite(exposure_km) or exposure_km < 0:
        raise ValueError(f"exposure_km must be >= 0 and finite, got {exposure_km!r}")
    if exposure_km == 0:
        return Rate(events, 0.0, None, None, None, confidence)
    scale = 1000.0 / exposure_km
    return Rate(events, float(exposure_km), events * scale, low * scale, high * scale, confidence)


def hide_small(counts: Sequence[int], *, minimum: int = SMALL_CELL, total_shown: bool = True) -> tuple[int | None, ...]:
    """Hide counts that could point at a person.

    Parameters
    ----------
    counts : sequence of int, shape (n,)
        Counts, 0 or more.
    minimum : int
        Counts under this are hidden, 0 too.
    total_shown : bool
        Whether the sum is shown beside them: a single hidden count would then follow by subtraction, and so would
        several that add up to less than the minimum, so the smallest of the others is hidden with them.

    Returns
    -------
    tuple of (int or None)
        None where hidden.

    Raises
    ------
    ValueError
        When a count is negative.

    Examples
    --------
    >>> hide_small([3, 40, 12])
    (None, 40, None)
    """
    for count in counts:
        _check_count("counts", count)
    hidden = {index for index, count in enumerate(counts) if count < minimum}
    others = sorted((index for index in range(len(counts)) if index not in hidden), key=lambda index: counts[index])
    while total_shown and others and hidden and (len(hidden) == 1 or sum(counts[i] for i in hidden) < minimum):
        hidden.add(others.pop(0))
    return tuple(None if index in hidden else count for index, count in enumerate(counts))


def _check_count(name: str, value: int) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise ValueError(f"{name} must be a whole number >= 0, got {value!r}")


def _check_confidence(confidence: float) -> None:
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
