"""How repeats scatter about their mean: variances of the three readings and how they go together, pooled over tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray, IntArray
from labtests.domain.scores.evaluation import Evaluation, Repeat

REPEATS_FOR_OWN_TYPE_A = 3
POOLED = "repeats, pooled history of the rig"
READINGS = ("torque", "deflection", "work")


@dataclass(frozen=True, slots=True)
class Scatter:
    """Variances and covariances of single observations about their mean, and the degrees of freedom behind them.

    `origin` says where they come from in words, `link` as a record ("check:rig-1"; empty where there is none).
    """

    torque_nm2: float
    deflection_mm2: float
    work_j2: float
    deflection_work: float
    df: float
    origin: str
    torque_deflection: float = 0.0
    torque_work: float = 0.0
    link: str = ""

    def covariance(self) -> FloatArray:
        """Of (torque, deflection, work) in N·m, mm and J; shape (3, 3)."""
        return np.array(
            [
                [self.torque_nm2, self.torque_deflection, self.torque_work],
                [self.torque_deflection, self.deflection_mm2, self.deflection_work],
                [self.torque_work, self.deflection_work, self.work_j2],
            ]
        )


def scatter_of(covariance: FloatArray, df: float, origin: str, link: str = "") -> Scatter:
    """Scatter with a covariance of (torque, deflection, work), shape (3, 3).

    Examples
    --------
    >>> scatter_of(np.diag([1.0, 2.0, 3.0]), 4.0, "repeats").work_j2
    3.0
    """
    v = covariance.tolist()
    return Scatter(v[0][0], v[1][1], v[2][2], v[1][2], df, origin, v[0][1], v[0][2], link)


def scatter_of_repeats(repeats: Sequence[Repeat]) -> Scatter | None:
    """Scatter of the repeats that gave everything; None below two of them.

    Examples
    --------
    >>> repeats = [Repeat(1, 4.0, 0.0, 6.0, 0.0, 1.0), Repeat(2, 6.0, 0.0, 8.0, 0.0, 2.0)]
    >>> scatter_of_repeats(repeats).torque_nm2
    2.0
    """
    rows = [(repeat.torque_15_nm, repeat.deflection_mm, repeat.work_j) for repeat in repeats]
    full = np.array([row for row in rows if None not in row], dtype=float).reshape(-1, len(READINGS))
    if len(full) < 2:
        return None
    apart = full - full.mean(axis=0)
    return scatter_of(apart.T @ apart / (len(full) - 1.0), len(full) - 1.0, "repeats")


def pool_repeats(test: IntArray, readings: FloatArray) -> tuple[Scatter | None, int]:
    """Pool the scatter of repeats about the mean of their own test.

    Parameters
    ----------
    test : array of int, shape (n,)
        The test of each repeat.
    readings : array, shape (n, 3)
        Torque in N·m, deflection in mm and work in J; a repeat with nan does not count.

    Returns
    -------
    tuple of Scatter or None, and int
        The pooled scatter, and of how many tests; None where no test has two repeats that count.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 2.4.4.4.

    Examples
    --------
    >>> repeats = np.array([[4.0, 6.0, 1.0], [6.0, 8.0, 2.0], [5.0, 7.0, 1.0]])
    >>> scatter, tests = pool_repeats(np.array([1, 1, 2]), repeats)
    >>> scatter.torque_nm2, scatter.df, tests
    (2.0, 1.0, 1)
    """
    is_full = ~np.isnan(readings).any(axis=1)
    full = readings[is_full]
    _, place, repeats = np.unique(test[is_full], return_inverse=True, return_counts=True)
    df = float(len(full) - len(repeats))
    if df < 1.0:
        return None, 0
    means = np.column_stack([np.bincount(place, weights=column) for column in full.T]) / repeats[:, np.newaxis]
    apart = full - means[place]
    return scatter_of(apart.T @ apart / df, df, POOLED), int((repeats > 1).sum())


def choose_scatter(evaluation: Evaluation, pooled: Scatter | None) -> Scatter | None:
    """Take the test's own scatter from 3 repeats up, the rig's pooled history below; None where neither exists."""
    own = scatter_of_repeats(evaluation.repeats)
    if own is not None and own.df + 1.0 >= REPEATS_FOR_OWN_TYPE_A:
        return own
    return pooled
