"""How often the check charts of a rig that is in order signal, and how soon they notice a shift: by simulation.

The numbers behind `labtests.domain.studies.check_chart.FALSE_ALARMS` and `NOTICED`. Run it with
``python -m tests.reference.check_chart_rates``. It is a chart of its own, point by point, and shares no code with the
product's: independent normal readings, two charts a rig, every alarm cleared at once, which takes its points out.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

CHECKS_A_YEAR = 250
CHARTS = 2


@dataclass
class Chart:
    """One chart as it is kept: values that count, whether the chart has signalled at the last one."""

    values: list[float] = field(default_factory=list)
    fresh: int = 0

    def add(self, value: float) -> bool:
        """Take a value in; true where it raises an alarm, whose points leave the chart at once."""
        self.values.append(value)
        self.fresh += 1
        n = len(self.values)
        if n < 10:
            return False
        basis = self.values[:20] if n > 20 else self.values[:10] if n == 10 else self.values[: n - 1]
        centre = math.fsum(basis) / len(basis)
        steps = math.fsum(abs(b - a) for a, b in pairwise(basis)) / (len(basis) - 1)
        sigma = steps / 1.128
        first = 0 if n == 10 else n - 1
        points = {p for end in range(first, n) for p in self._signal(end, centre, sigma)}
        if not points:
            return False
        self.values = [value for place, value in enumerate(self.values) if place not in points]
        return True

    def _signal(self, end: int, centre: float, sigma: float) -> set[int]:
        found: set[int] = set()
        for sign in (1.0, -1.0):
            for needed, window, limit in ((1, 1, 3.0), (2, 3, 2.0), (4, 5, 1.0), (8, 8, 0.0)):
                start = max(0, end - window + 1)
                hits = [p for p in range(start, end + 1) if sign * (self.values[p] - centre) > limit * sigma]
                if hits and hits[-1] == end and len(hits) >= needed:
                    found |= set(hits)
        return found


def alarms_in_first_years(rigs: int, rng: np.random.Generator, years: int = 1) -> np.ndarray:
    """Alarms of each rig and year, both charts together; shape (rigs, years)."""
    found = np.zeros((rigs, years), dtype=int)
    for rig in range(rigs):
        for _ in range(CHARTS):
            chart = Chart()
            for check, value in enumerate(rng.normal(size=CHECKS_A_YEAR * years).tolist()):
                found[rig, check // CHECKS_A_YEAR] += chart.add(value)
    return found


def checks_until_noticed(shift: float, rigs: int, rng: np.random.Generator) -> np.ndarray:
    """Checks from a sudden shift of one quantity, in σ, to the first alarm of its chart, with held limits."""
    waited = np.zeros(rigs, dtype=int)
    for rig in range(rigs):
        chart = Chart()
        while len(chart.values) < 30:
            chart.add(float(rng.normal()))
        waited[rig] = 1
        while not chart.add(float(rng.normal(shift))):
            waited[rig] += 1
    return waited


if __name__ == "__main__":
    generator = np.random.default_rng(20)
    years = alarms_in_first_years(4000, generator, 2)
    for year in (0, 1):
        counts = years[:, year]
        spread = np.quantile(counts, [0.05, 0.5, 0.95])
        sys.stdout.write(f"year {year + 1}: mean {counts.mean():.2f}; 5 %, half, 95 % below {spread}\n")
    for size in (0.5, 1.0, 1.5, 2.0, 3.0):
        waited = checks_until_noticed(size, 4000, generator)
        half, most = np.quantile(waited, [0.5, 0.8])
        sys.stdout.write(f"shift {size}: half within {half:.0f}, 8 of 10 within {most:.0f}\n")
