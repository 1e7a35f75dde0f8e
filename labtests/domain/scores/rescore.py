"""Rescoring many results by another model at once: scores, uncertainties, bands, and what changes band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from core.domain.coverage import below
from core.domain.units import FloatArray, IntArray
from labtests.domain.scores.bands import BORDERLINE_BELOW, Band, check_scale
from labtests.domain.scores.scoring import Model, Scores, Values, score

NO_BAND = -1
"""Place on the scale of a score that is missing (nan)."""


@dataclass(frozen=True, slots=True, eq=False)
class Placements:
    """Many scores on a scale: places in it (-1 for none), probability of the own band (nan where u is unknown)."""

    band: IntArray
    probability: FloatArray
    is_borderline: npt.NDArray[np.bool_]
    neighbour: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class BandChanges:
    """`counts[i, j]` results go from band i of the old scale to band j of the new one; `is_changed` marks them."""

    counts: IntArray
    is_changed: npt.NDArray[np.bool_]
    changed: int
    n: int


def rescore(
    torque_15_nm: FloatArray, deflection_mm: FloatArray, work_j: FloatArray, *, model: Model, bands: Sequence[Band]
) -> tuple[Scores, IntArray]:
    """Score arrays of readings by a model and place them on its scale.

    Parameters
    ----------
    torque_15_nm, deflection_mm, work_j : array, shape (n,)
        Readings; nan where missing.
    model : Model
        The model to score by.
    bands : sequence of Band
        Its scale.

    Returns
    -------
    Scores, array of int
        The four scores and each stability's place in `bands` (-1 where it is nan).

    Examples
    --------
    >>> from labtests.domain.scores.scoring import S1
    >>> scale = [Band(1, "low", None, 50.0), Band(2, "high", 50.0, None)]
    >>> rescore(np.array([5.1, 9.0]), np.array([5.9, 4.0]), np.array([1.3, 1.0]), model=S1, bands=scale)[1].tolist()
    [1, 1]
    """
    scores = score(torque_15_nm, deflection_mm, work_j, model=model)
    return scores, band_places(scores.stability, bands)


def band_places(stability: FloatArray, bands: Sequence[Band]) -> IntArray:
    """Place of each score in `bands`, from 0; a score on a limit belongs to the band above it, nan to none (-1).

    Examples
    --------
    >>> scale = [Band(1, "low", None, 50.0), Band(2, "high", 50.0, None)]
    >>> band_places(np.array([49.9, 50.0, np.nan]), scale).tolist()
    [0, 1, -1]
    """
    places = np.searchsorted(_limits(bands), stability, side="right").astype(np.int64)
    places[np.isnan(stability)] = NO_BAND
    return places


def place_all(
    stability: FloatArray,
    u: FloatArray,
    bands: Sequence[Band],
    *,
    df: FloatArray | float = math.inf,
    guard: float = 0.0,
) -> Placements:
    """Band, its probability, and the neighbour of borderline ones, for many scores: `bands.place` on arrays.

    Parameters
    ----------
    stability, u : array, shape (n,)
        Scores and standard uncertainties; u nan or 0 where unknown.
    bands : sequence of Band
        The scale.
    df : array, shape (n,), or float
        Effective degrees of freedom of u; nan or inf where unlimited.
    guard : float
        Guard band in points, ≥ 0.

    Examples
    --------
    >>> scale = [Band(1, "low", None, 50.0), Band(2, "high", 50.0, None)]
    >>> place_all(np.array([49.0]), np.array([2.0]), scale).neighbour.tolist()
    [1]
    """
    places = band_places(stability, bands)
    limits = np.concatenate([[-np.inf], _limits(bands), [np.inf, np.nan]])
    known = np.where(u > 0.0, u, np.nan)
    dfs = np.broadcast_to(np.asarray(df, dtype=np.float64), stability.shape)
    own = _probability(stability, known, dfs, limits, places)
    is_borderline = own < BORDERLINE_BELOW
    neighbour = np.full(len(places), NO_BAND, dtype=np.int64)
    # Most scores are not borderline: their neighbours are not needed, and half of the work is saved.
    few = np.flatnonzero(is_borderline)
    at = places[few]
    below, above = (_probability(stability[few], known[few], dfs[few], limits, at + step) for step in (-1, 1))
    neighbour[few] = np.where((above > below) | np.isnan(below), at + 1, at - 1)
    if guard > 0.0:
        # The places of scores that are missing lead to the limits nan and -inf, which are near to nothing.
        beneath, ahead = stability - limits[places], limits[places + 1] - stability
        is_guarded = np.minimum(beneath, ahead) < guard
        across = np.where(ahead <= beneath, places + 1, places - 1)
        neighbour = np.where(is_guarded & ~is_borderline, across, neighbour)
        is_borderline = is_borderline | is_guarded
    return Placements(places, own, is_borderline, neighbour)


def _probability(
    stability: FloatArray, u: FloatArray, df: FloatArray, limits: FloatArray, places: IntArray
) -> FloatArray:
    """Probability of the bands at `places`; nan beyond either end of the scale, where a limit is nan."""
    low, high = (below((limits[places + step] - stability) / u, df) for step in (0, 1))
    return np.asarray(np.maximum(0.0, high - low), dtype=np.float64)


def convert_u(u: Scores, *, old: Model, new: Model) -> Scores:
    """Standard uncertainties under another model, from those under the model that scored.

    Parameters
    ----------
    u : Scores
        Standard uncertainties (or one part of them, type A or B alone) of scores by `old`; floats or arrays.
    old, new : Model
        The models.

    Returns
    -------
    Scores
        Exact: each score is linear in its reading. How midfoot and rearfoot go together follows from stability by the
        old model; where that gave one of them no weight it cannot be known and they are taken as independent.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and 5.2.2.

    Examples
    --------
    >>> from labtests.domain.scores.scoring import S1
    >>> round(convert_u(Scores(0.8, 1.0, 1.0, 2.0), old=S1, new=S1).stability, 3)
    0.8
    """
    by_torque = (old.torque_100_nm - old.torque_0_nm) / (new.torque_100_nm - new.torque_0_nm)
    by_deflection = (old.deflection_100_mm - old.deflection_0_mm) / (new.deflection_100_mm - new.deflection_0_mm)
    midfoot, rearfoot = u.midfoot * abs(by_torque), u.rearfoot * abs(by_deflection)
    cushioning = u.cushioning * abs((old.work_100_j - old.work_0_j) / (new.work_100_j - new.work_0_j))
    together = _covariance(u, old) * by_torque * by_deflection
    squares = (new.weight_midfoot * midfoot) ** 2 + (new.weight_rearfoot * rearfoot) ** 2
    squares = squares + 2.0 * new.weight_midfoot * new.weight_rearfoot * together
    stability = np.sqrt(np.maximum(0.0, squares))
    return Scores(
        stability=stability if isinstance(squares, np.ndarray) else float(stability),
        midfoot=midfoot,
        rearfoot=rearfoot,
        cushioning=cushioning,
    )


def _covariance(u: Scores, old: Model) -> Values:
    """Covariance of midfoot and rearfoot, points², from what they make of stability together."""
    weights = old.weight_midfoot, old.weight_rearfoot
    if not all(weights):
        return 0.0
    alone = (weights[0] * u.midfoot) ** 2 + (weights[1] * u.rearfoot) ** 2
    limit = u.midfoot * u.rearfoot
    covariance: Values = np.clip((u.stability**2 - alone) / (2.0 * weights[0] * weights[1]), -limit, limit)
    return covariance


def band_changes(before: IntArray, after: IntArray, *, old: Sequence[Band], new: Sequence[Band]) -> BandChanges:
    """Which results change band, and from where to where.

    Parameters
    ----------
    before, after : array of int, shape (n,)
        Places in the old and the new scale, -1 for none; such results are left out of the counts.
    old, new : sequence of Band
        The scales; a band is the same when its order and name are.

    Examples
    --------
    >>> scale = [Band(1, "low", None, 50.0), Band(2, "high", 50.0, None)]
    >>> band_changes(np.array([0, 0, 1]), np.array([0, 1, 1]), old=scale, new=scale).counts.tolist()
    [[1, 1], [0, 1]]
    """
    if before.shape != after.shape:
        raise ValueError(f"before and after must be equally many, got {before.shape} and {after.shape}")
    for name, places, bands in (("before", before, old), ("after", after, new)):
        if places.size and not -1 <= places.min() <= places.max() < len(bands):
            found = f"{places.min()} to {places.max()}"
            raise ValueError(f"{name} must hold places from -1 to {len(bands) - 1}, got {found}")
    both = (before != NO_BAND) & (after != NO_BAND)
    pairs = np.bincount(before[both] * len(new) + after[both], minlength=len(old) * len(new))
    same = np.array([[(a.order, a.name) == (b.order, b.name) for b in new] for a in old])
    is_changed = both & ~same[before, after]
    counts = pairs.reshape(len(old), len(new)).astype(np.int64)
    return BandChanges(counts, is_changed, int(is_changed.sum()), int(both.sum()))


def _limits(bands: Sequence[Band]) -> FloatArray:
    check_scale(bands)
    return np.array([band.upper for band in bands[:-1]], dtype=np.float64)
