"""Mean time without recurrence up to a stated time."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from fittings.domain.outcomes.comparisons import Estimate
from fittings.domain.outcomes.survival import SurvivalCurve


@dataclass(frozen=True, slots=True)
class RestrictedMean:
    """Mean time free up to `until`, in the unit of the curve, with its standard error and interval."""

    until: float
    value: float
    standard_error: float
    low: float
    high: float
    confidence: float
    method: str = "area below the curve (Kaplan-Meier), Greenwood variance, normal interval"


def restricted_mean(curve: SurvivalCurve, until: float) -> RestrictedMean:
    """Area below a curve up to a time.

    Parameters
    ----------
    curve : SurvivalCurve
        An estimate.
    until : float
        In the unit of the curve, above 0; somebody should be watched so long.

    Returns
    -------
    RestrictedMean
        Without events the whole time with a standard error of 0: show it with enough events only.

    Raises
    ------
    ValueError
        When `until` is not above 0.

    References
    ----------
    .. [1] Royston P., Parmar M.K.B., BMC Med Res Methodol 13:152 (2013).

    Examples
    --------
    >>> from fittings.domain.outcomes.survival import curve_of, life_table
    >>> restricted_mean(curve_of(life_table([1, 2, 3, 4], [True] * 4)), 4).value
    2.5
    """
    if not until > 0:
        raise ValueError(f"until must be > 0, got {until}")
    before = curve.time < until
    time, survival = curve.time[before], curve.survival[before]
    areas = np.append(1.0, survival) * np.diff(np.concatenate([[0.0], time, [until]]))
    value = float(areas.sum())
    died, at_risk = curve.events[before], curve.at_risk[before]
    left = at_risk - died
    later = areas[1:][::-1].cumsum()[::-1]
    variance = float((np.where(left > 0, later**2 * died / (at_risk * np.maximum(left, 1.0)), 0.0)).sum())
    error = math.sqrt(variance)
    reach = float(ndtri(0.5 + curve.confidence / 2.0)) * error
    return RestrictedMean(until, value, error, max(value - reach, 0.0), min(value + reach, until), curve.confidence)


def as_estimate(mean: RestrictedMean) -> Estimate:
    """The mean as one of two that are compared."""
    return Estimate(mean.value, mean.low, mean.high, mean.method)
