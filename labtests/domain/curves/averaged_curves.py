"""Recorded curves of one shoe, averaged on a few points that all of them share, with their spread."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import isotonic_regression

from core.domain.units import FloatArray, IntArray

STEPS = 15
"""Equal steps from nothing to the target: with 15° the points are whole degrees."""


@dataclass(frozen=True, slots=True, eq=False)
class AveragedCurve:
    """One curve of a shoe: at each of `at` the mean over its specimens, and the least and most of any recording."""

    at: FloatArray
    mean: FloatArray
    low: FloatArray
    high: FloatArray
    specimens: int
    recordings: int


def torque_at(angle_deg: FloatArray, torque_nm: FloatArray, grid_deg: FloatArray) -> FloatArray | None:
    """Read the torque of one recording at some angles.

    Parameters
    ----------
    angle_deg, torque_nm : arrays of float, shape (n,)
        The loading branch less its torque at 0°; angles in any order.
    grid_deg : array of float, shape (m,)
        From 0°, rising.

    Returns
    -------
    array of float, shape (m,), or None
        N·m. Where both directions reach the last angle, their mean, as in the score. None where neither does.

    Examples
    --------
    >>> import numpy as np
    >>> torque_at(np.array([-2.0, 0.0, 2.0]), np.array([-0.6, 0.0, 0.4]), np.array([0.0, 1.0, 2.0])).tolist()
    [0.0, 0.25, 0.5]
    """
    angle, torque = _ordered(angle_deg, torque_nm)
    last = float(grid_deg[-1])
    found = []
    if angle[-1] >= last and angle[0] <= 0.0:
        found.append(np.interp(grid_deg, angle, torque))
    if angle[0] <= -last and angle[-1] >= 0.0:
        found.append(-np.interp(-grid_deg, angle, torque))
    return np.asarray(np.mean(found, axis=0)) if found else None


def deflection_at(deflection_mm: FloatArray, force_n: FloatArray, grid_n: FloatArray) -> FloatArray | None:
    """Read the deflection of one recording at some forces.

    Parameters
    ----------
    deflection_mm, force_n : arrays of float, shape (n,)
        The loading branch from the first contact on.
    grid_n : array of float, shape (m,)
        Rising.

    Returns
    -------
    array of float, shape (m,), or None
        mm; 0 where the force is below that of the contact. None where the last force is not reached.

    Notes
    -----
    Noise lets the force fall here and there although the heel is pressed further. The forces are replaced by the
    nearest series that never falls (isotonic regression, least squares), so that each has one deflection.

    Examples
    --------
    >>> import numpy as np
    >>> deflection_at(np.array([0.0, 2.0, 4.0]), np.array([0.0, 100.0, 400.0]), np.array([50.0, 250.0])).tolist()
    [1.0, 3.0]
    """
    deflection, force = _ordered(deflection_mm, force_n)
    if not len(force) or force.max() < grid_n[-1]:
        return None
    rising: FloatArray = isotonic_regression(force).x
    levels, first = np.unique(rising, return_index=True)
    ends = np.append(first[1:], len(rising)) - 1
    middles = (deflection[first] + deflection[ends]) / 2.0
    found: FloatArray = np.maximum(np.interp(grid_n, levels, middles), 0.0)
    return found


def averaged(grid: FloatArray, recordings: Sequence[FloatArray], specimens: IntArray) -> AveragedCurve | None:
    """Average recordings: first those of each specimen, then the specimens, each counting once.

    Parameters
    ----------
    grid : array of float, shape (m,)
    recordings : sequence of arrays of float, shape (m,)
    specimens : array of int, shape (n,)
        Which specimen each recording is of.

    Returns
    -------
    AveragedCurve or None
        None without recordings. `low` and `high` are the least and the most of all recordings, not an uncertainty:
        of one recording they equal the mean.

    Examples
    --------
    >>> import numpy as np
    >>> rows = [np.array([0.0, 1.0]), np.array([0.0, 3.0]), np.array([0.0, 6.0])]
    >>> found = averaged(np.array([0.0, 15.0]), rows, np.array([7, 7, 8]))
    >>> found.mean.tolist(), found.low.tolist(), found.high.tolist(), found.specimens
    ([0.0, 4.0], [0.0, 1.0], [0.0, 6.0], 2)
    """
    if not recordings:
        return None
    rows, labels = np.vstack(recordings), np.unique(specimens)
    means = np.vstack([rows[specimens == label].mean(axis=0) for label in labels])
    return AveragedCurve(
        grid, means.mean(axis=0), rows.min(axis=0), rows.max(axis=0), specimens=len(labels), recordings=len(rows)
    )


def _ordered(position: FloatArray, load: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a curve by its position; loads at the same position are averaged."""
    unique, inverse, counts = np.unique(position, return_inverse=True, return_counts=True)
    return unique, np.bincount(inverse, weights=load) / counts
