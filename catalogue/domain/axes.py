"""The axis of a score in a drawing: which values it covers, where they are drawn, and its ticks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

AXIS_PAD = 0.06
TICK_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
TICKS_MOST = 10


@dataclass(frozen=True, slots=True)
class Axis:
    """One score from `low` to `high`, drawn over `length` px."""

    low: float
    high: float
    length: float

    def along(self, value: float) -> float:
        """Return where a value is drawn; one outside the axis at its edge."""
        return min(max((value - self.low) / (self.high - self.low) * self.length, 0.0), self.length)

    def whisker(self, value: float, expanded_u: float | None) -> tuple[float, float] | None:
        return None if expanded_u is None else (self.along(value - expanded_u), self.along(value + expanded_u))

    def ticks(self) -> tuple[tuple[float, float], ...]:
        """Return round values along the axis, each with its place."""
        span = self.high - self.low
        step = next((step for step in TICK_STEPS if span / step <= TICKS_MOST), span / TICKS_MOST)
        values = [index * step for index in range(math.ceil(self.low / step), math.floor(self.high / step) + 1)]
        return tuple((value, self.along(value)) for value in values)


def axis_over(values: Sequence[float], length: float) -> Axis:
    """Return an axis around every value, with room at both ends; 0 to 100 where there are none.

    Examples
    --------
    >>> axis_over([40.0, 90.0], 100.0)
    Axis(low=37.0, high=93.0, length=100.0)
    """
    if not len(values):
        return Axis(0.0, 100.0, length)
    low, high = min(values), max(values)
    pad = max((high - low) * AXIS_PAD, 1.0)
    return Axis(float(math.floor(low - pad)), float(math.ceil(high + pad)), length)
