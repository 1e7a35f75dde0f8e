"""The distribution of a true score: its probability density over the scale, and the probability of each band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Spread:
    """A score with its standard uncertainty u, points, and degrees of freedom (None where unlimited)."""

    value: float
    u: float
    df: float | None = None

    def __post_init__(self) -> None:
        if not self.u > 0:
            raise ValueError(f"u must be > 0, got {self.u}")
        if self.df is not None and not self.df >= 1:
            raise ValueError(f"df must be >= 1, got {self.df}")


def density(spread: Spread, scores: Sequence[float] | Floats) -> Floats:
    """Return how dense the probability of the true score is at some scores.

    Parameters
    ----------
    spread : Spread
    scores : sequence of float, shape (n,)
        Points of the scale.

    Returns
    -------
    ndarray, shape (n,)
        Per point of the scale; the area below the curve is 1.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), G.3: (y - Y) / u is distributed as Student's t.

    Examples
    --------
    >>> density(Spread(60.0, 2.0), [60.0]).round(4)
    array([0.1995])
    """
    z = (np.asarray(scores, dtype=np.float64) - spread.value) / spread.u
    if spread.df is None:
        return np.asarray(np.exp(-(z**2) / 2) / (spread.u * math.sqrt(2 * math.pi)), dtype=np.float64)
    df = spread.df
    factor = math.exp(math.lgamma((df + 1) / 2) - math.lgamma(df / 2)) / math.sqrt(df * math.pi) / spread.u
    return np.asarray(factor * (1 + z**2 / df) ** (-(df + 1) / 2), dtype=np.float64)


def probability(spread: Spread, low: float | None, high: float | None) -> float:
    """Return how probable it is that the true score is from `low` to `high`; None where open.

    Examples
    --------
    >>> round(probability(Spread(60.0, 2.0), 58.0, 62.0), 3)
    0.683
    """
    upper = 1.0 if high is None else _below(spread, high)
    return upper - (0.0 if low is None else _below(spread, low))


def _below(spread: Spread, score: float) -> float:
    z = (score - spread.value) / spread.u
    return float(special.ndtr(z) if spread.df is None else special.stdtr(spread.df, z))
