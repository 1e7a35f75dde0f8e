"""Which band of a scale a stability score is in, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.special import ndtr

from core.domain import coverage

BORDERLINE_BELOW = 0.80
PROVISIONAL_BELOW_SPECIMENS = 2


@dataclass(frozen=True, slots=True)
class Band:
    """A band of the scale: `lower` included, `upper` excluded, None where open."""

    order: int
    name: str
    lower: float | None
    upper: float | None


@dataclass(frozen=True, slots=True)
class BandProbability:
    """How probable it is that the true score is in this band."""

    band: Band
    probability: float


@dataclass(frozen=True, slots=True)
class Placement:
    """A score placed on the scale. Probabilities are empty and `probability` None where u is unknown.

    `is_guarded`: it is nearer to a limit of its band than the guard band allows, so that it does not count as within.
    """

    band: Band
    probability: float | None
    probabilities: tuple[BandProbability, ...]
    is_borderline: bool
    neighbour: Band | None
    is_guarded: bool = False


def check_scale(bands: Sequence[Band]) -> None:
    """Raise ValueError unless the bands cover the whole line in order without gap or overlap."""
    if not bands:
        raise ValueError("bands must be ≥ 1, got 0")
    edges_meet = all(left.upper is not None and left.upper == right.lower for left, right in pairwise(bands))
    if bands[0].lower is not None or bands[-1].upper is not None or not edges_meet:
        raise ValueError("bands must cover every score in order: open below, each upper the next lower, open above")


def band_of(score: float, bands: Sequence[Band]) -> Band:
    """Find the band of a score; a score on a limit belongs to the band above it.

    Parameters
    ----------
    score : float
        Finite.
    bands : sequence of Band
        In order, covering the line.

    Examples
    --------
    >>> low, high = Band(1, "low", None, 50.0), Band(2, "high", 50.0, None)
    >>> band_of(50.0, [low, high]).name
    'high'
    """
    check_scale(bands)
    if not math.isfinite(score):
        raise ValueError(f"score must be finite, got {score}")
    return next(band for band in bands if band.upper is None or score < band.upper)


def band_probabilities(
    score: float, u: float, bands: Sequence[Band], *, df: float | None = None
) -> tuple[BandProbability, ...]:
    """Probability that the true score is in each band, by Student's t about the measured one.

    Parameters
    ----------
    score : float
        Measured stability.
    u : float
        Its standard uncertainty, > 0.
    bands : sequence of Band
        In order, covering the line.
    df : float or None
        Effective degrees of freedom of u; None where unlimited: a normal distribution.

    Returns
    -------
    tuple of BandProbability
        One a band, adding up to 1.

    References
    ----------
    .. [1] JCGM 106:2012, 7.2 to 7.4 (conformance probability, no prior knowledge).
    .. [2] JCGM 101:2008, 6.4.9: a scaled and shifted t-distribution where u has limited degrees of freedom.

    Examples
    --------
    >>> low, high = Band(1, "low", None, 50.0), Band(2, "high", 50.0, None)
    >>> [entry.probability for entry in band_probabilities(50.0, 2.0, [low, high])]
    [0.5, 0.5]
    """
    check_scale(bands)
    if not u > 0.0 or not math.isfinite(u):
        raise ValueError(f"u must be > 0 and finite, got {u}")
    dfs = math.inf if df is None else df
    limits = np.array([math.inf if band.upper is None else band.upper for band in bands])
    below = coverage.below((limits - score) / u, dfs).tolist()
    starts = [0.0, *below[:-1]]
    return tuple(
        BandProbability(band, max(0.0, end - start)) for band, start, end in zip(bands, starts, below, strict=True)
    )


def place(
    score: float, u: float | None, bands: Sequence[Band], *, df: float | None = None, guard: float = 0.0
) -> Placement:
    """Place a score on the scale: its band, how probable that is, and the neighbour where it is borderline.

    Parameters
    ----------
    score : float
        Finite.
    u : float or None
        Its standard uncertainty; None where unknown.
    bands : sequence of Band
        In order, covering the line.
    guard : float
        Guard band in points, ≥ 0: a score less than this inside a limit does not count as within its band.

    Notes
    -----
    Borderline is below 0.80 in the score's own band, or within the guard band; the neighbour is the more probable of
    the bands beside it, or the one across the limit. With u unknown (None) nothing is said about probability; u = 0
    counts as unknown, as no measurement is without it.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3: guarded acceptance, the acceptance interval is the band less a guard band at each limit
       (clause from memory).

    Examples
    --------
    >>> low, high = Band(1, "low", None, 50.0), Band(2, "high", 50.0, None)
    >>> place(49.0, 2.0, [low, high]).neighbour.name
    'high'
    >>> place(48.5, None, [low, high], guard=2.0).is_guarded
    True
    """
    band = band_of(score, bands)
    across = _across_guard(score, band, bands, guard)
    if not u:
        return Placement(band, None, (), across is not None, across, across is not None)
    probabilities = band_probabilities(score, u, bands, df=df)
    own = next(entry.probability for entry in probabilities if entry.band == band)
    is_borderline = own < BORDERLINE_BELOW
    beside = [entry for entry in probabilities if abs(bands.index(entry.band) - bands.index(band)) == 1]
    neighbour = max(beside, key=lambda entry: entry.probability).band if is_borderline and beside else across
    return Placement(band, own, probabilities, is_borderline or across is not None, neighbour, across is not None)


def _across_guard(score: float, band: Band, bands: Sequence[Band], guard: float) -> Band | None:
    """The band across the limit that a score is too near to; None where it counts as within its own."""
    if not (guard >= 0.0 and math.isfinite(guard)):
        raise ValueError(f"guard must be ≥ 0 and finite, got {guard}")
    below = math.inf if band.lower is None else score - band.lower
    above = math.inf if band.upper is None else band.upper - score
    if min(below, above) >= guard:
        return None
    return bands[bands.index(band) + (1 if above <= below else -1)]


def wrong_side_probability(distance: float, sd: float) -> float:
    """Probability that one measured score falls on the other side of a limit than the true score.

    Parameters
    ----------
    distance : float
        Of the true score from the limit, in points, ≥ 0.
    sd : float
        Standard deviation of one measurement, in points, ≥ 0; taken as normal.

    Returns
    -------
    float
        0 to 0.5; 0 where the measurement does not scatter.

    Raises
    ------
    ValueError
        For a distance or standard deviation below 0.

    References
    ----------
    .. [1] JCGM 106:2012, 9.3: risk of a wrong decision (from memory).

    Examples
    --------
    >>> round(wrong_side_probability(1.0, 1.0), 4)
    0.1587
    """
    if distance < 0.0 or sd < 0.0:
        raise ValueError(f"distance and sd must be ≥ 0, got {distance} and {sd}")
    return 0.0 if sd == 0.0 else float(ndtr(-distance / sd))
