"""The year of a season as makers write it."""

from __future__ import annotations

import re

_YEAR = re.compile(r"(?<!\d)(20\d{2})(?!\d)")
_SHORT_YEAR = re.compile(r"(?<!\d)\W?(\d{2})(?!\d)")


def season_year(season: str) -> int | None:
    """Read the latest year that a season names.

    Parameters
    ----------
    season : free text, such as "2027", "Autumn 2026/27" or "SS27"

    Returns
    -------
    int or None
        The year, None where the text names none.

    Examples
    --------
    >>> season_year("spring 2026"), season_year("AW26/27"), season_year("all year")
    (2026, 2027, None)
    """
    years = [int(year) for year in _YEAR.findall(season)]
    years += [2000 + int(year) for year in _SHORT_YEAR.findall(_YEAR.sub(" ", season))]
    return max(years, default=None)
