"""Propagation of uncertainty: the general part, for any inputs and outputs (GUM)."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray

# Repeats that are equal but for rounding leave a number of degrees of freedom with no meaning. From here on Student's t
# and the normal distribution differ by less than the ninth digit, so the number counts as unlimited.
UNLIMITED_DF = 1e9
Sensitivities = tuple[float, float, float]
POINTS = "points"
"""Unit of components that are worked out for each score by itself."""


@dataclass(frozen=True, slots=True)
class Component:
    """A source of uncertainty: `type_` A (from repeats) or B (otherwise), u in `unit`, df (inf if u is known).

    `calibration` is the number of the calibration's record that it comes from, None for any other source; `link` names
    another record ("check:rig-1"), empty where there is none. A df of nan is one that was not stored.
    """

    source: str
    type_: str
    u: float
    unit: str
    df: float = math.inf
    calibration: int | None = None
    link: str = ""


@dataclass(frozen=True, slots=True)
class Effect:
    """A source of uncertainty and how it acts on the readings of a test.

    `sensitivities` are the changes of torque (N·m), deflection (mm) and work (J) by one unit of the component.
    """

    component: Component
    sensitivities: Sensitivities


@dataclass(frozen=True, slots=True)
class BudgetRow:
    """A row of a budget: contribution = |sensitivity| x u, share = its part of the combined variance (0 to 1)."""

    source: str
    type_: str
    u: float
    unit: str
    sensitivity: float
    contribution: float
    share: float
    calibration: int | None = None
    df: float = math.inf
    link: str = ""


@dataclass(frozen=True, slots=True)
class Budget:
    """The budget of one output, with its effective degrees of freedom (inf without end)."""

    df: float
    rows: tuple[BudgetRow, ...]


@dataclass(frozen=True, slots=True)
class BudgetTable:
    """What the budget of one output follows from; its rows are worked out where somebody looks at them.

    `sensitivities` has one for each component; those that the output does not feel have 0 and no row.
    """

    components: Sequence[Component]
    sensitivities: Sequence[float]

    def __iter__(self) -> Iterator[BudgetRow]:
        felt = [(part, c, abs(c) * part.u) for part, c in zip(self.components, self.sensitivities, strict=True) if c]
        variance = math.fsum(amount**2 for _, _, amount in felt)
        for part, c, amount in felt:
            share = amount**2 / variance if variance > 0.0 else 0.0
            more = (part.calibration, part.df, part.link)
            yield BudgetRow(part.source, part.type_, part.u, part.unit, c, amount, share, *more)


def rectangular_u(resolution: float) -> float:
    """Standard uncertainty of a display that rounds to `resolution`: half-width resolution/2, rectangular.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), F.2.2.1 (from memory).

    Examples
    --------
    >>> round(rectangular_u(0.01), 7)
    0.0028868
    """
    if resolution < 0.0:
        raise ValueError(f"resolution must be ≥ 0, got {resolution}")
    return resolution / math.sqrt(12.0)


def combined_covariance(sensitivities: FloatArray, covariance: FloatArray) -> FloatArray:
    """Covariance of outputs from that of inputs: C V Cᵀ.

    Parameters
    ----------
    sensitivities : array, shape (outputs, inputs)
        Partial derivatives.
    covariance : array, shape (..., inputs, inputs)
        Symmetric; correlated inputs off the diagonal.

    Returns
    -------
    array, shape (..., outputs, outputs)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2.2 equation 13; JCGM 102:2011, 6.2.1.

    Examples
    --------
    >>> import numpy as np
    >>> combined_covariance(np.array([[3.0, 4.0]]), np.eye(2)).tolist()
    [[25.0]]
    """
    if covariance.shape[-2:] != (sensitivities.shape[1],) * 2:
        raise ValueError(f"sensitivities {sensitivities.shape} and covariance {covariance.shape} must fit together")
    return np.asarray(sensitivities @ covariance @ sensitivities.T, dtype=np.float64)


def contributions(sensitivities: FloatArray, u: FloatArray) -> FloatArray:
    """What each independent component adds to each output: |sensitivity| x u.

    Parameters
    ----------
    sensitivities, u : array, shape (..., components)
        Standard uncertainties in the unit of each component.

    Returns
    -------
    array, shape (..., components)

    Examples
    --------
    >>> import numpy as np
    >>> contributions(np.array([[-2.0]]), np.array([3.0])).tolist()
    [[6.0]]
    """
    if sensitivities.shape[-1] != u.shape[-1]:
        raise ValueError(f"sensitivities {sensitivities.shape} must have a column for each of {u.shape[-1]} components")
    return np.asarray(np.abs(sensitivities) * u, dtype=np.float64)


def effective_dfs(given: FloatArray, df: FloatArray) -> FloatArray:
    """Effective degrees of freedom of outputs from their `contributions`, not truncated; inf where all are known.

    Parameters
    ----------
    given, df : array, shape (..., components)
        Contributions, and the degrees of freedom of the components (inf where unlimited).

    Returns
    -------
    array, shape (...)

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), G.4.1 equation G.2b (Welch-Satterthwaite).

    Examples
    --------
    >>> import numpy as np
    >>> effective_dfs(np.array([[1.0], [0.0]]), np.array([4.0])).tolist()
    [4.0, inf]
    """
    squares = given**2
    above = squares.sum(axis=-1) ** 2
    below = (squares**2 / df).sum(axis=-1)
    dfs: FloatArray = np.divide(above, below, out=np.full_like(above, math.inf), where=below > 0.0)
    return np.where(dfs < UNLIMITED_DF, dfs, math.inf)
