"""Propagation of distributions through any model, for the examples of JCGM 101; the application has one model."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.studies.variance import LEVEL
from labtests.domain.uncertainty.monte_carlo import Drawn, Simulated, summary_of


def propagate(
    inputs: Sequence[Drawn], model: Callable[..., FloatArray], *, draws: int, rng: np.random.Generator
) -> Simulated:
    return summary_of(model(*(each.draw(draws, rng) for each in inputs)), LEVEL)
