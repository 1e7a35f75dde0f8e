"""Logistic model of a yes or no, by iteratively reweighted least squares; it says so where it can't be trusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import expit, log_expit, ndtr, ndtri

Floats = NDArray[np.float64]

EVENTS_A_COEFFICIENT = 10
"""Fewer events than this for each coefficient: no numbers are given (Peduzzi et al. 1996)."""

ITERATIONS_MAX = 30
SETTLED = 1e-10


@dataclass(frozen=True, slots=True)
class Coefficient:
    """One term: log odds a unit, its standard error, the odds ratio with its interval, z and two-sided p."""

    name: str
    value: float
    standard_error: float
    odds_ratio: float
    low: float
    high: float
    z: float
    p: float


@dataclass(frozen=True, slots=True)
class LogisticModel:
    """A fitted model. `coefficients` is empty, with the reason in `note`, where nothing can be said.

    The first coefficient is the constant.
    """

    n: int
    events: int
    coefficients: tuple[Coefficient, ...]
    log_likelihood: float | None
    iterations: int
    confidence: float
    note: str
    method: str = "maximum likelihood, Wald intervals"


def logistic_model(
    design: ArrayLike,
    outcome: ArrayLike,
    names: Sequence[str],
    *,
    confidence: float = 0.95,
    events_each: int = EVENTS_A_COEFFICIENT,
) -> LogisticModel:
    """Fit log odds of an outcome as a sum of terms.

    Parameters
    ----------
    design : array_like, shape (n, k)
        One row a person, one column a term, without the constant; finite.
    outcome : array_like of bool, shape (n,)
        Whether it happened.
    names : sequence of str, length k
        Of the terms.
    confidence : float
        Between 0 and 1.
    events_each : int
        How many people must have given the rarer answer for each term.

    Returns
    -------
    LogisticModel
        The constant and a coefficient for each term. Without coefficients, and saying why, where the rarer answer was
        given by fewer than `events_each` people for each term, where a term does not vary or follows from the others,
        and where terms separate those with the outcome from those without (the likelihood then has no maximum).

    Raises
    ------
    ValueError
        When shapes differ, a value is not finite, or the confidence is out of range.

    Notes
    -----
    Terms are brought to mean 0 and standard deviation 1 for the iteration and brought back afterwards. Newton's steps
    on data with a maximum settle in a dozen; where terms separate, each step goes on by about one standard unit
    without end, so not having settled is how separation is told.

    References
    ----------
    .. [1] McCullagh P., Nelder J.A., Generalized Linear Models, 2nd ed. (1989), section 2.5.
    .. [2] Peduzzi P. et al., J Clin Epidemiol 49:1373 (1996): ten events for each variable.
    .. [3] Albert A., Anderson J.A., Biometrika 71:1 (1984): separation.

    Examples
    --------
    >>> x = np.repeat([0.0, 1.0], 50)
    >>> y = np.concatenate([np.arange(50) < 10, np.arange(50) < 25])
    >>> round(logistic_model(x[:, None], y, ["x"]).coefficients[1].odds_ratio, 6)
    4.0
    """
    columns, happened = _checked(design, outcome, names)
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
    n, events = happened.size, int(happened.sum())
    note = _too_few(n, events, len(names), events_each) or _degenerate(columns, names)
    if note:
        return LogisticModel(n, events, (), None, 0, confidence, note)
    centre, spread = columns.mean(axis=0), columns.std(axis=0)
    scaled = np.column_stack([np.ones(n), (columns - centre) / spread])
    beta, covariance, iterations = _iterate(scaled, happened.astype(np.float64))
    if covariance is None:
        words = f"not estimable: {', '.join(names)} separate those with the outcome from those without"
        return LogisticModel(n, events, (), None, iterations, confidence, words)
    linear = scaled @ beta
    likelihood = float(np.where(happened, log_expit(linear), log_expit(-linear)).sum())
    back = np.diag(np.concatenate([[1.0], 1.0 / spread]))
    back[0, 1:] = -centre / spread
    value, error = back @ beta, np.sqrt(np.diag(back @ covariance @ back.T))
    reach = float(ndtri(0.5 + confidence / 2.0))
    coefficients = tuple(
        _coefficient(name, float(b), float(e), reach) for name, b, e in zip(("", *names), value, error, strict=True)
    )
    return LogisticModel(n, events, coefficients, likelihood, iterations, confidence, "")


def _coefficient(name: str, value: float, error: float, reach: float) -> Coefficient:
    z = value / error
    with np.errstate(over="ignore"):
        ratio, low, high = (float(np.exp(value + step * error)) for step in (0.0, -reach, reach))
    return Coefficient(name or "constant", value, error, ratio, low, high, z, float(2.0 * ndtr(-abs(z))))


def _iterate(design: Floats, outcome: Floats) -> tuple[Floats, Floats | None, int]:
    """Newton's steps; no covariance where they do not settle."""
    beta = np.zeros(design.shape[1])
    for turn in range(1, ITERATIONS_MAX + 1):
        chance = expit(design @ beta)
        information = design.T @ (design * (chance * (1.0 - chance))[:, None])
        if np.linalg.cond(information) > 1e12:
            return beta, None, turn
        step = np.linalg.solve(information, design.T @ (outcome - chance))
        beta = beta + step
        if np.abs(step).max() < SETTLED:
            return beta, np.asarray(np.linalg.inv(information), dtype=np.float64), turn
    return beta, None, ITERATIONS_MAX


def _too_few(n: int, events: int, terms: int, events_each: int) -> str:
    rarer = min(events, n - events)
    needed = events_each * terms
    if rarer >= needed:
        return ""
    return f"too few to say: {rarer} of the rarer outcome, {needed} are needed for {terms} coefficients"


def _degenerate(columns: Floats, names: Sequence[str]) -> str:
    flat = [name for name, spread in zip(names, np.ptp(columns, axis=0), strict=True) if spread == 0]
    if flat:
        return f"not estimable: {', '.join(flat)} is the same for everybody"
    scaled = (columns - columns.mean(axis=0)) / columns.std(axis=0)
    if np.linalg.matrix_rank(scaled) < len(names):
        return f"not estimable: of {', '.join(names)} one follows from the others"
    return ""


def _checked(design: ArrayLike, outcome: ArrayLike, names: Sequence[str]) -> tuple[Floats, NDArray[np.bool_]]:
    columns, happened = np.asarray(design, dtype=np.float64), np.asarray(outcome, dtype=np.bool_)
    if columns.ndim != 2 or columns.shape != (happened.size, len(names)) or not names or happened.ndim != 1:
        raise ValueError(
            f"design must have a row a person and a column a name, got {columns.shape} for {happened.shape} outcomes"
            f" and {len(names)} names"
        )
    if not np.all(np.isfinite(columns)):
        raise ValueError("design must be finite for everyone")
    return columns, happened
