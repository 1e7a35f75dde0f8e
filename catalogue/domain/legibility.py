"""How large letters must be to be read from a distance, and where labels stand beside a scale."""

from __future__ import annotations

import math
from collections.abc import Sequence

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


def spread(homes: Sequence[float], *, gap: float, low: float, high: float) -> list[float]:
    """Return places for labels so that neighbours are `gap` apart and each is near its home.

    Parameters
    ----------
    homes : sequence of float
        Where each label belongs, ascending.
    gap : float
        Between two neighbours, > 0; smaller where all of them would not fit.
    low, high : float
        Ends of the room.

    Returns
    -------
    list of float
        A place for each label, in the order given.

    Raises
    ------
    ValueError
        A gap that is not > 0.

    Notes
    -----
    Labels that would overlap are put side by side around the mean of their homes (pooling of adjacent violators on
    homes less their rank times the gap), which keeps the sum of squared distances from their homes least.

    Examples
    --------
    >>> spread([10.0, 10.0, 50.0], gap=4.0, low=0.0, high=60.0)
    [8.0, 12.0, 50.0]
    """
    if not gap > 0:
        raise ValueError(f"gap must be > 0, got {gap}")
    if len(homes) > 1:
        gap = min(gap, (high - low) / (len(homes) - 1))
    last = high - gap * max(0, len(homes) - 1)
    pools: list[tuple[float, int]] = []
    for rank, home in enumerate(homes):
        mean, size = home - rank * gap, 1
        while pools and pools[-1][0] >= mean:
            before, count = pools.pop()
            mean, size = (before * count + mean * size) / (count + size), count + size
        pools.append((mean, size))
    bases = [min(max(mean, low), max(last, low)) for mean, size in pools for _ in range(size)]
    return [base + rank * gap for rank, base in enumerate(bases)]
