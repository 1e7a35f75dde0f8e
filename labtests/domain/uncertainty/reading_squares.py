"""Variances of the readings behind the four scores, and what a scoring model makes of them.

The last axis of every array holds the squares of torque (N·m)², deflection (mm)² and work J², and the product of torque
and deflection (N·m·mm): all that the variances of the four scores depend on, whatever the model.
"""

from __future__ import annotations

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.scores.scoring import SCORES, Model, Scores
from labtests.domain.uncertainty.scatter import Scatter

SQUARES = ("torque", "deflection", "work", "torque_deflection")


def points_per_unit(model: Model) -> tuple[float, float, float]:
    """Points of midfoot a N·m, of rearfoot a mm and of cushioning a J, with their signs."""
    return (
        100.0 / (model.torque_100_nm - model.torque_0_nm),
        100.0 / (model.deflection_100_mm - model.deflection_0_mm),
        100.0 / (model.work_100_j - model.work_0_j),
    )


def by_model(model: Model) -> dict[str, FloatArray]:
    """For each score the weights of the four squares, shape (4,); their weighted sum is the score's variance.

    Examples
    --------
    >>> from labtests.domain.scores.scoring import S1
    >>> by_model(S1)["midfoot"].round(1).tolist()
    [122.4, 0.0, 0.0, 0.0]
    """
    midfoot, rearfoot, cushioning = points_per_unit(model)
    one, two = model.weight_midfoot * midfoot, model.weight_rearfoot * rearfoot
    rows = ([one**2, two**2, 0, 2 * one * two], [midfoot**2, 0, 0, 0], [0, rearfoot**2, 0, 0], [0, 0, cushioning**2, 0])
    return {name: np.array(row, dtype=np.float64) for name, row in zip(SCORES, rows, strict=True)}


def squares_of_scatter(scatter: Scatter) -> FloatArray:
    """The four squares of a scatter, shape (4,)."""
    return np.array([scatter.torque_nm2, scatter.deflection_mm2, scatter.work_j2, scatter.torque_deflection])


def squares_of_products(torque: FloatArray, deflection: FloatArray, work: FloatArray) -> FloatArray:
    """The four squares of deviations of readings, shape (n, 4).

    Examples
    --------
    >>> squares_of_products(np.array([1.0]), np.array([2.0]), np.array([3.0])).tolist()
    [[1.0, 4.0, 9.0, 2.0]]
    """
    return np.column_stack([torque**2, deflection**2, work**2, torque * deflection])


def squares_of_scores(u: Scores, model: Model) -> FloatArray:
    """The squares behind standard uncertainties of the four scores, arrays of shape (n,); shape (n, 4).

    Where the model gives midfoot or rearfoot no weight, their product cannot be known and is 0.

    Examples
    --------
    >>> from labtests.domain.scores.scoring import S1
    >>> one = np.array([1.0])
    >>> squares_of_scores(Scores(one, one, one, one), S1)[0, 0].round(6).item()
    0.00817
    """
    midfoot, rearfoot, cushioning = points_per_unit(model)
    torque2, deflection2, work2 = (
        (u.midfoot / midfoot) ** 2,
        (u.rearfoot / rearfoot) ** 2,
        (u.cushioning / cushioning) ** 2,
    )
    one, two = model.weight_midfoot * midfoot, model.weight_rearfoot * rearfoot
    product = 0.0 * torque2
    if one and two:
        product = (u.stability**2 - one**2 * torque2 - two**2 * deflection2) / (2.0 * one * two)
    return np.column_stack([torque2, deflection2, work2, product])
