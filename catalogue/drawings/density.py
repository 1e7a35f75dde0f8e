"""How many shoes lie where along the scale: what is drawn where there are too many for a mark each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from catalogue.domain import stability_scale
from catalogue.domain.sieve import Ints, steps_along
from catalogue.selectors import BandRow, Columns, Finding

BINS = 120


@dataclass(frozen=True, slots=True)
class Density:
    """How many shoes lie where along the scale, in equal steps: of all, and of those that the filter leaves."""

    low: float
    high: float
    every: tuple[int, ...]
    left: tuple[int, ...]


@lru_cache(maxsize=2)
def _steps(columns: Columns, bands: tuple[BandRow, ...]) -> tuple[float, float, Ints]:
    """Return the ends of the axis around every shoe, and in which step of it each lies."""
    scores = columns.values[:, 0]
    low, high = stability_scale.axis_range([float(scores.min()), float(scores.max())], limits_of(bands))
    return low, high, steps_along(scores, low, high, steps=BINS)


def density_of(finding: Finding, bands: Sequence[BandRow]) -> Density:
    """Count the published shoes along the scale."""
    low, high, steps = _steps(finding.columns, tuple(bands))
    left = np.bincount(steps[finding.left_rows()], minlength=BINS)
    return Density(low, high, _every(finding.columns, tuple(bands)), tuple(left.tolist()))


@lru_cache(maxsize=2)
def _every(columns: Columns, bands: tuple[BandRow, ...]) -> tuple[int, ...]:
    return tuple(np.bincount(_steps(columns, bands)[2], minlength=BINS).tolist())


def limits_of(bands: Sequence[BandRow]) -> list[stability_scale.Limits]:
    return [stability_scale.Limits(band.order, band.lower, band.upper) for band in bands]
