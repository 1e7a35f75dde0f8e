"""How large letters must be to be read from a distance."""

from __future__ import annotations

import math

PREFERRED_ARC_MINUTES, LEAST_ARC_MINUTES = 20.0, 16.0
CAPITAL_SHARE = 0.7
"""Height of a capital letter, as a share of the font size; sans serif fonts have 0.70 to 0.73."""


def letter_height_mm(distance_m: float, arc_minutes: float = PREFERRED_ARC_MINUTES) -> float:
    """Return the height that a capital letter needs to be read from a distance.

    Parameters
    ----------
    distance_m : float
        From the eye to the letter, > 0.
    arc_minutes : float
        The angle that the letter takes, minutes of arc, > 0. 20 to 22 are preferred, 16 is the least.

    Returns
    -------
    float
        Height of a capital letter without accent, mm.

    Raises
    ------
    ValueError
        A distance or an angle that is not > 0.

    References
    ----------
    .. [1] ISO 9241-3, character height, as quoted at pc.ibm.com/ww/healthycomputing/vdc-crf.html (PAGE).
    .. [2] NUREG-0700 rev. 2, 1.3.1-4: height = 6.283 D (MA) / 21600 (PAGE).

    Examples
    --------
    >>> round(letter_height_mm(4.0), 1)
    23.3
    """
    for name, value in (("distance_m", distance_m), ("arc_minutes", arc_minutes)):
        if not value > 0:
            raise ValueError(f"{name} must be > 0, got {value}")
    return 1000.0 * distance_m * 2.0 * math.pi * arc_minutes / 21_600.0
