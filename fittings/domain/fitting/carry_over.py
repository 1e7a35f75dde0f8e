"""What of an earlier fitting may be taken over into a new one."""

from __future__ import annotations

import datetime as dt

FEET_HOLD_DAYS = 366


def feet_hold(measured_on: dt.date, today: dt.date, *, under_age: bool) -> bool:
    """Say whether lengths and widths of feet that were measured earlier may be taken over.

    Parameters
    ----------
    measured_on, today : date
        Day of the measurement and of the new fitting.
    under_age : bool
        Whether a guardian agreed for the person: feet that grow are measured each time.

    Returns
    -------
    bool
        True up to a year later, the last day included.

    References
    ----------
    .. [1] Common practice, no source: feet of adults change slowly, and swell over a day by more than over a year.

    Examples
    --------
    >>> feet_hold(dt.date(2026, 2, 1), dt.date(2026, 8, 1), under_age=False)
    True
    >>> feet_hold(dt.date(2026, 2, 1), dt.date(2026, 8, 1), under_age=True)
    False
    """
    return not under_age and 0 <= (today - measured_on).days <= FEET_HOLD_DAYS
