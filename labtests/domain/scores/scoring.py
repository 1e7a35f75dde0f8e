"""From readings to scores. A scoring model is data: anchors, weights and a version."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.curves.curves import MJ_PER_J, TARGET_FORCE_N

Values = float | FloatArray
SCORES = ("stability", "midfoot", "rearfoot", "cushioning")


@dataclass(frozen=True, slots=True)
class Model:
    """A scoring model: where each scale has its 0 and 100, and how stability is weighed.

    `guard_band` is how far inside the limits of its band a stability must be to count as within it, in points.
    """

    version: str
    torque_0_nm: float
    torque_100_nm: float
    deflection_0_mm: float
    deflection_100_mm: float
    work_0_j: float
    work_100_j: float
    weight_midfoot: float
    weight_rearfoot: float
    guard_band: float = 0.0

    def __post_init__(self) -> None:
        for name in ("torque", "deflection", "work"):
            ends = [getattr(self, field) for field in self.__slots__ if field.startswith(name)]
            if not np.isfinite(ends).all() or ends[0] == ends[1]:
                raise ValueError(f"{name} anchors at 0 and 100 must be finite and differ, got {ends[0]} and {ends[1]}")
        weights = (self.weight_midfoot, self.weight_rearfoot)
        if min(weights) < 0.0 or abs(sum(weights) - 1.0) > 1e-9:
            raise ValueError(f"weights must be ≥ 0 and add up to 1, got {weights[0]} and {weights[1]}")
        if not (np.isfinite(self.guard_band) and self.guard_band >= 0.0):
            raise ValueError(f"guard_band must be ≥ 0 and finite, got {self.guard_band}")


S1 = Model(
    version="S1",
    torque_0_nm=0.0,
    torque_100_nm=9.038783,
    deflection_0_mm=10.0,
    deflection_100_mm=3.0,
    work_0_j=0.667233,
    work_100_j=2.224110,
    weight_midfoot=0.54,
    weight_rearfoot=0.46,
)


@dataclass(frozen=True, slots=True, eq=False)
class Scores:
    """The four scores, unrounded and not clipped; floats or arrays as the readings were."""

    stability: Any
    midfoot: Any
    rearfoot: Any
    cushioning: Any

    def taken(self, rows: Any) -> Scores:
        """Some rows of scores that are arrays."""
        return Scores(**{name: getattr(self, name)[rows] for name in SCORES})


def score(torque_15_nm: Values, deflection_mm: Values, work_j: Values, *, model: Model) -> Scores:
    """Score readings by a model.

    Parameters
    ----------
    torque_15_nm : float or array
        Torque at 15°, N·m.
    deflection_mm : float or array
        Heel deflection at 444.822 N, mm.
    work_j : float or array
        Loading work to 444.822 N, J; `estimated_work_j` where only readings exist.
    model : Model
        Anchors and weights.

    Returns
    -------
    Scores
        Straight lines through the anchors; values outside 0 to 100 stay as they are. nan stays nan.

    References
    ----------
    .. [1] Anchors and weights of S1: common practice, no source.

    Examples
    --------
    >>> scores = score(5.1, 5.9, 1.3, model=S1)
    >>> round(scores.midfoot, 1), round(scores.rearfoot, 1), round(scores.stability, 1)
    (56.4, 58.6, 57.4)
    """
    midfoot = _line(torque_15_nm, model.torque_0_nm, model.torque_100_nm)
    rearfoot = _line(deflection_mm, model.deflection_0_mm, model.deflection_100_mm)
    return Scores(
        stability=model.weight_midfoot * midfoot + model.weight_rearfoot * rearfoot,
        midfoot=midfoot,
        rearfoot=rearfoot,
        cushioning=_line(work_j, model.work_0_j, model.work_100_j),
    )


def estimated_work_j(deflection_mm: Any, force_n: float = TARGET_FORCE_N) -> Any:
    """Work to a force (444.822 N), estimated as if the heel were a straight spring: half of force times deflection.

    Examples
    --------
    >>> round(estimated_work_j(10.0), 6)
    2.224111
    """
    return 0.5 * force_n * deflection_mm / MJ_PER_J


def _line(value: Values, at_0: float, at_100: float) -> Any:
    return 100.0 * (value - at_0) / (at_100 - at_0)


def stability_points(model: Model) -> tuple[float, float]:
    """Say how many points of stability one unit of a reading is worth.

    Returns
    -------
    tuple of float
        For torque at 15° (points per N·m) and for deflection (points per mm), both ≥ 0: which way a score goes does
        not matter for how far it scatters.

    Examples
    --------
    >>> [round(points, 2) for points in stability_points(S1)]
    [5.97, 6.57]
    """
    torque = model.weight_midfoot / abs(model.torque_100_nm - model.torque_0_nm)
    deflection = model.weight_rearfoot / abs(model.deflection_100_mm - model.deflection_0_mm)
    return 100.0 * torque, 100.0 * deflection
