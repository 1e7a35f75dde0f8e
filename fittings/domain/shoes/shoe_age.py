"""When to look at a pair again, by how far it has gone."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta

from fittings.domain.bounds import LIMITS, number_within

SHOE_LIFE_KM: tuple[float, float] = (500.0, 800.0)
"""Distance after which a pair is commonly looked at again; common practice, no source."""

LONGEST_DAYS = 730
"""Nobody is asked to wait longer than two years: foam ages on the shelf too; common practice, no source."""


@dataclass(frozen=True, slots=True)
class ShoeAge:
    """From when to when a pair should be looked at; `capped` where two years end it and not the distance."""

    first: date
    last: date
    first_km: float
    last_km: float
    capped: bool


def shoe_age(worn_from: date, distance_km_week: float | None) -> ShoeAge | None:
    """Days between which a pair should be looked at again.

    Parameters
    ----------
    worn_from : date
        The first day of wearing.
    distance_km_week : float or None
        How far the pair goes a week, 0 to 1000 km; None where not known.

    Returns
    -------
    ShoeAge or None
        From 500 to 800 km at this pace, rounded to whole days upward and at most two years; None where the distance
        is not known or 0.

    Raises
    ------
    TypeError, ValueError
        When the distance is no number in the range.

    Notes
    -----
    Common practice, no source: published work disagrees on how far a pair lasts.

    Examples
    --------
    >>> shoe_age(date(2026, 1, 1), 35).first
    datetime.date(2026, 4, 11)
    """
    if distance_km_week is None:
        return None
    pace = number_within("distance_km_week", distance_km_week, *LIMITS["distance_km_week"])
    if pace == 0:
        return None
    first, last = (min(_days(km, pace), LONGEST_DAYS) for km in SHOE_LIFE_KM)
    return ShoeAge(
        first=worn_from + timedelta(days=first),
        last=worn_from + timedelta(days=last),
        first_km=SHOE_LIFE_KM[0],
        last_km=SHOE_LIFE_KM[1],
        capped=last == LONGEST_DAYS,
    )


def _days(distance_km: float, pace: float) -> int:
    # Rounding first keeps 100 days from becoming 101 by the last bit of a division; a pace of nearly nothing is capped.
    days = round(distance_km / pace * 7, 6)
    return LONGEST_DAYS if days > LONGEST_DAYS else math.ceil(days)
