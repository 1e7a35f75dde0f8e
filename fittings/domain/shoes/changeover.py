"""From the old shoe to the new one: what changes, and over how many weeks to change over.

Common practice, no source: which change is large, and how many weeks follow, are rules of thumb of the trade.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

LARGE: dict[str, float] = {"stability": 12.0, "stack_heel_mm": 6.0, "drop_mm": 4.0, "mass_g": 60.0, "cushioning": 15.0}
"""A change of more than this is large, in points, mm and g; the drop's is that of the match."""

WEEKS_BY_LARGE = (0, 2, 4, 6)
"""Weeks to change over, by the number of large changes; more than three count as three."""

_DIGITS = 6
_ROUND_TO = 5


@dataclass(frozen=True, slots=True)
class ShoeFacts:
    """What two shoes are compared by; None where it is not known."""

    stability: float | None = None
    stack_heel_mm: float | None = None
    drop_mm: float | None = None
    mass_g: float | None = None
    cushioning: float | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """One property of the old and the new shoe; `difference` is new minus old, None where one is not known."""

    what: str
    old: float | None
    new: float | None
    difference: float | None
    is_large: bool


def changes_between(old: ShoeFacts, new: ShoeFacts) -> tuple[Change, ...]:
    """Compare two shoes.

    Parameters
    ----------
    old, new : ShoeFacts

    Returns
    -------
    tuple of Change
        One for each property, in the order of `LARGE`. A change of exactly the border is not large.

    Examples
    --------
    >>> [change.what for change in changes_between(ShoeFacts(drop_mm=10.0), ShoeFacts(drop_mm=4.0)) if change.is_large]
    ['drop_mm']
    """
    return tuple(_change(what, getattr(old, what), getattr(new, what)) for what in LARGE)


def _change(what: str, old: float | None, new: float | None) -> Change:
    if old is None or new is None:
        return Change(what, old, new, None, is_large=False)
    # Values are given to a tenth: 12.1 - 8.1 must not count as more than 4.
    difference = round(new - old, _DIGITS)
    return Change(what, old, new, difference, is_large=abs(difference) > LARGE[what])


def weeks_to_change(changes: Sequence[Change]) -> int:
    """Return over how many weeks to change over.

    Parameters
    ----------
    changes : sequence of Change

    Returns
    -------
    int
        0 where nothing changes much, else 2, 4 or 6 by the number of large changes.

    Examples
    --------
    >>> weeks_to_change(changes_between(ShoeFacts(drop_mm=10.0, mass_g=200.0), ShoeFacts(drop_mm=4.0, mass_g=290.0)))
    4
    """
    return WEEKS_BY_LARGE[min(sum(change.is_large for change in changes), len(WEEKS_BY_LARGE) - 1)]


def share_by_week(weeks: int) -> tuple[int, ...]:
    """Return the share of the distance to go in the new shoes, week by week.

    Parameters
    ----------
    weeks : int
        0 or more.

    Returns
    -------
    tuple of int
        Percent, to the nearest 5, rising in equal steps to 100 in the last week.

    Raises
    ------
    ValueError
        When `weeks` is negative.

    Examples
    --------
    >>> share_by_week(4), share_by_week(6)
    ((25, 50, 75, 100), (15, 35, 50, 65, 85, 100))
    """
    if weeks < 0:
        raise ValueError(f"weeks must be >= 0, got {weeks}")
    return tuple(round(100 * week / weeks / _ROUND_TO) * _ROUND_TO for week in range(1, weeks + 1))
