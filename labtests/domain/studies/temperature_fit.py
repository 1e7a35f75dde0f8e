"""Temperature coefficients from one specimen tested at several temperatures."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from labtests.domain.studies.linear_fit import fit_line
from labtests.domain.studies.series import Series, finite_series
from labtests.domain.studies.variance import LEVEL, Interval

MIN_TESTS = 4
MIN_SPAN_K = 3.0
"""Over less the scatter of the bench is larger than what the temperature does."""


@dataclass(frozen=True, slots=True)
class TemperatureFit:
    """A coefficient (%/K) with its standard uncertainty, n - 2 degrees of freedom and interval, from n tests."""

    percent_k: float
    u: float
    df: int
    n: int
    interval: Interval
    low_c: float
    high_c: float

    @property
    def furthest(self) -> float:
        """The end of the interval that is further from 0: what is carried in budgets."""
        return max((self.interval.low, self.interval.high), key=abs)

    @property
    def is_shown(self) -> bool:
        """Whether the interval leaves out 0."""
        return self.interval.low > 0.0 or self.interval.high < 0.0


def fit_temperature(temperature_c: Series, reading: Series, *, level: float = LEVEL) -> TemperatureFit:
    """Fit how much a reading changes a kelvin.

    Parameters
    ----------
    temperature_c : sequence of float, shape (n,)
        n ≥ 4, spanning at least 3 K.
    reading : sequence of float, shape (n,)
        Of the same specimen, > 0, in any unit.
    level : float
        Of the interval.

    Returns
    -------
    TemperatureFit
        100 times the slope of the reading's logarithm, which is the relative change whatever the reading's size.

    Raises
    ------
    ValueError
        For too few tests, too small a span or readings ≤ 0.

    References
    ----------
    .. [1] Ordinary least squares on logarithms; see `fit_line` for its checks.

    Examples
    --------
    >>> fit = fit_temperature([19.0, 21.0, 23.0, 25.0], [5.1, 5.0, 4.9, 4.8])
    >>> round(fit.percent_k, 2), fit.df
    (-1.01, 2)
    """
    if len(temperature_c) < MIN_TESTS:
        raise ValueError(f"{MIN_TESTS} tests or more are needed, there are {len(temperature_c)}")
    celsius = finite_series("temperature_c", temperature_c, at_least=MIN_TESTS)
    readings = finite_series("reading", reading, at_least=MIN_TESTS)
    if readings.min() <= 0.0:
        raise ValueError(f"readings must be > 0, got {readings.min():g}")
    if np.ptp(celsius) < MIN_SPAN_K:
        raise ValueError(f"the temperatures must span {MIN_SPAN_K:g} K or more, they span {np.ptp(celsius):.2g} K")
    line = fit_line(celsius.tolist(), np.log(readings).tolist(), level=level)
    interval = Interval(100.0 * line.slope_interval.low, 100.0 * line.slope_interval.high, level)
    return TemperatureFit(100.0 * line.slope, 100.0 * line.slope_se, line.df, line.n, interval, line.x_low, line.x_high)
