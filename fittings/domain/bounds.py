"""Named checks of single values: the message says name, bound and value."""

from __future__ import annotations

import math
from types import MappingProxyType

from core.domain.figures import figure

LIMITS = MappingProxyType(
    {
        "body_mass_kg": (10.0, 400.0),
        "distance_km_week": (0.0, 1000.0),
        "pain_now": (0, 10),
        "pain_weeks": (0, 1040),
        "grade": (0, 3),
        "degrees": (-30.0, 45.0),
        "fpi6": (-12, 12),
        "navicular_drop_mm": (-30.0, 60.0),
        "length_mm": (100.0, 400.0),
        "width_mm": (40.0, 200.0),
        "comfort": (0, 10),
        "overuse_total": (0, 100),
        "days_off": (0, 366),
    }
)
"""What is taken for a value of each kind, edges included: wide, to catch slips of the pen and not rare people."""


def _written(value: object) -> str:
    return figure(value, 15) if isinstance(value, (int, float)) and not isinstance(value, bool) else repr(value)


def number_within(name: str, value: object, low: float, high: float) -> float:
    """Return `value` as a float when it is a finite number in [low, high].

    Parameters
    ----------
    name : str
        What the value is, with its unit (``"body_mass_kg"``); opens the message.
    value : object
        The value as given.
    low, high : float
        Accepted range, both edges included.

    Returns
    -------
    float
        The value.

    Raises
    ------
    TypeError
        When it is no number (a boolean is none).
    ValueError
        When it is not finite or out of range.

    Examples
    --------
    >>> number_within("body_mass_kg", 70, 20, 300)
    70.0
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise TypeError(f"{name} must be a number from {figure(low)} to {figure(high)}, got {_written(value)}")
    if not math.isfinite(value) or not low <= value <= high:
        raise ValueError(f"{name} must be a number from {figure(low)} to {figure(high)}, got {_written(value)}")
    return float(value)


def whole_within(name: str, value: object, low: int, high: int) -> int:
    """Return `value` as an integer when it is a whole number in [low, high].

    Parameters
    ----------
    name : str
        What the value is; opens the message.
    value : object
        The value as given; 2.0 counts as 2, 2.5 does not count.
    low, high : int
        Accepted range, both edges included.

    Returns
    -------
    int
        The value.

    Raises
    ------
    TypeError
        When it is no number (a boolean is none).
    ValueError
        When it is not whole or out of range.

    Examples
    --------
    >>> whole_within("pronation", 2, 0, 3)
    2
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise TypeError(f"{name} must be a whole number from {figure(low)} to {figure(high)}, got {_written(value)}")
    if not math.isfinite(value) or value != int(value) or not low <= value <= high:
        raise ValueError(f"{name} must be a whole number from {figure(low)} to {figure(high)}, got {_written(value)}")
    return int(value)
