"""How many shoes lie where along the scale: what is drawn where there are too many for a mark each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from catalogue.domain import stability_scale
from catalogue.domain.sieve import Ints, steps_along
from catalogue.selectors import BandRow, Columns, Selection

BINS = 120


@dataclass(frozen=True, slots=True)
class Density:
    """How many shoes lie where along the scale, in equal steps: of all, and of those that the filter leaves."""

    low: float
    high: float
    every: tuple[int, ...]
    left: tuple[int, ...]


def _steps(columns: Columns, bands: Sequence[BandRow]) -> tuple[float, float, Ints]:
    """Return the ends of the axis around every shoe, and in which step of it each is."""
    scores = columns.values[:, 0]
    low, high = stability_scale.axis_range([float(scores.min()), float(scores.max())], limits_of(bands))
    return low, high, steps_along(scores, low, high, steps=BINS)


def _counts(steps: Ints) -> tuple[int, ...]:
    return tuple(np.bincount(steps, minlength=BINS).tolist())


def density_of(selection: Selection, bands: Sequence[BandRow]) -> Density:
    """Count the published shoes along the scale."""
    columns = selection.columns
    low, high, steps = columns.once("steps", lambda: _steps(columns, bands))
    every = columns.once("counts", lambda: _counts(steps))
    return Density(low, high, every, _counts(steps[selection.left_rows()]))


def limits_of(bands: Sequence[BandRow]) -> list[stability_scale.Limits]:
    return [stability_scale.Limits(band.order, band.lower, band.upper) for band in bands]
