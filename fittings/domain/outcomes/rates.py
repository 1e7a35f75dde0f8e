"""Rates with their intervals.

Observational data: what is computed here shows association, not what a shoe does.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import gammaincinv

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
    _check_events(events)
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


def _check_events(value: int) -> None:
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise ValueError(f"events must be a whole number >= 0, got {value!r}")


def _check_confidence(confidence: float) -> None:
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
