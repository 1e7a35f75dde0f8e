"""Cox model: what goes with a higher rate of an event, taking into account how long everybody was watched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr, ndtri

from fittings.domain.outcomes.cox_sums import Floats, RiskSets, risk_sets, sums_at, totals_of

Ties = Literal["efron", "breslow"]

EVENTS_A_COEFFICIENT = 10
"""Fewer events than this for each coefficient: no numbers are given (Peduzzi et al. 1995)."""

ITERATIONS_MAX = 30
SETTLED = 1e-9


@dataclass(frozen=True, slots=True)
class Coefficient:
    """One term: log hazard ratio a unit, both standard errors, hazard ratio with its interval, z, two-sided p.

    `p_constant` is small where the hazard ratio changes with time (scaled Schoenfeld residuals). Interval, z and p are
    from the robust standard error where people were named, from the plain one otherwise.
    """

    name: str
    value: float
    standard_error: float
    robust_error: float | None
    hazard_ratio: float
    low: float
    high: float
    z: float
    p: float
    p_constant: float


@dataclass(frozen=True, slots=True)
class CoxModel:
    """A fitted model. `coefficients` is empty, with the reason in `note`, where nothing can be said."""

    n: int
    events: int
    coefficients: tuple[Coefficient, ...]
    log_likelihood: float | None
    log_likelihood_null: float | None
    iterations: int
    confidence: float
    note: str
    ties: Ties
    method: str = "Cox proportional hazards, partial likelihood"


@dataclass(frozen=True, slots=True)
class _Fit:
    beta: Floats
    covariance: Floats
    log_likelihood: float
    null: float
    iterations: int


def cox_model(
    design: ArrayLike,
    duration: ArrayLike,
    event: ArrayLike,
    names: Sequence[str],
    *,
    ties: Ties = "efron",
    entered: ArrayLike | None = None,
    stratum: ArrayLike | None = None,
    person: ArrayLike | None = None,
    confidence: float = 0.95,
    events_each: int = EVENTS_A_COEFFICIENT,
) -> CoxModel:
    """Fit the log hazard of an event as a sum of terms.

    Parameters
    ----------
    design : array_like, shape (n, k)
        One row a course, one column a term; finite.
    duration : array_like, shape (n,)
        Time watched, any unit, 0 or more.
    event : array_like of bool, shape (n,)
        Whether the event came at the end of it.
    names : sequence of str, length k
        Of the terms.
    ties : {"efron", "breslow"}
        How events of one time are put in order: averaged over all orders, or each with all the others at risk.
    entered : array_like, shape (n,), optional
        Time from which each is watched, 0 to the duration: a course whose terms change is several rows.
    stratum : array_like of int, shape (n,), optional
        Groups that each have a baseline of their own.
    person : array_like of int, shape (n,), optional
        Whose course it is: the standard errors are then robust and add up each person's courses.
    confidence : float
        Between 0 and 1.
    events_each : int
        How many events there must be for each term.

    Returns
    -------
    CoxModel
        Without coefficients, and saying why, with fewer than `events_each` events for each term, where a term does
        not vary or follows from the others, and where terms separate those with the event from those without.

    Raises
    ------
    ValueError
        When shapes differ, a value is not finite, ties are unknown or the confidence is out of range.

    Notes
    -----
    The sums over the risk sets are added up once for each distinct time, so that the work for ties grows with the
    people only, not with people times events.

    References
    ----------
    .. [1] Cox D.R., J R Stat Soc B 34:187 (1972); Breslow N., Biometrics 30:89 (1974); Efron B., J Am Stat Assoc
       72:557 (1977).
    .. [2] Lin D.Y., Wei L.J., J Am Stat Assoc 84:1074 (1989): robust standard errors.
    .. [3] Grambsch P.M., Therneau T.M., Biometrika 81:515 (1994): scaled Schoenfeld residuals.
    .. [4] Peduzzi P. et al., J Clin Epidemiol 48:1503 (1995): ten events for each variable.

    Examples
    --------
    >>> x = np.tile([0.0, 1.0], 40)
    >>> found = cox_model(x[:, None], np.arange(1, 81), x + 1 > 0, ["x"])
    >>> found.events, round(found.coefficients[0].hazard_ratio, 3)
    (80, 0.931)
    """
    columns, happened = _checked(design, event, names)
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, got {confidence!r}")
    if ties not in ("efron", "breslow"):
        raise ValueError(f"ties must be efron or breslow, got {ties!r}")
    n, events = happened.size, int(happened.sum())
    note = _too_few(events, len(names), events_each) or _degenerate(columns, names)
    if note:
        return CoxModel(n, events, (), None, None, 0, confidence, note, ties)
    spread = columns.std(axis=1)
    scaled = (columns - columns.mean(axis=1)[:, None]) / spread[:, None]
    sets = risk_sets(scaled, duration, happened, efron=ties == "efron", stratum=stratum, entered=entered)
    fit = _iterate(sets)
    if fit is None:
        words = f"not estimable: {', '.join(names)} separate those with the event from those without"
        return CoxModel(n, events, (), None, None, ITERATIONS_MAX, confidence, words, ties)
    robust = None if person is None else _robust_errors(sets, fit, np.asarray(person)) / spread
    errors = _Errors(np.sqrt(np.diag(fit.covariance)) / spread, robust, _constancy(sets, fit))
    return CoxModel(
        n=n,
        events=events,
        coefficients=_coefficients(names, fit.beta / spread, errors, confidence),
        log_likelihood=fit.log_likelihood,
        log_likelihood_null=fit.null,
        iterations=fit.iterations,
        confidence=confidence,
        note="",
        ties=ties,
    )


@dataclass(frozen=True, slots=True)
class _Errors:
    plain: Floats
    robust: Floats | None
    constant: Floats


def _coefficients(names: Sequence[str], value: Floats, errors: _Errors, confidence: float) -> tuple[Coefficient, ...]:
    used = errors.plain if errors.robust is None else errors.robust
    reach, z = float(ndtri(0.5 + confidence / 2.0)) * used, value / used
    with np.errstate(over="ignore"):
        ratio, low, high = np.exp(value), np.exp(value - reach), np.exp(value + reach)
    return tuple(
        Coefficient(
            name=name,
            value=float(value[k]),
            standard_error=float(errors.plain[k]),
            robust_error=None if errors.robust is None else float(errors.robust[k]),
            hazard_ratio=float(ratio[k]),
            low=float(low[k]),
            high=float(high[k]),
            z=float(z[k]),
            p=float(2.0 * ndtr(-abs(z[k]))),
            p_constant=float(errors.constant[k]),
        )
        for k, name in enumerate(names)
    )


def _iterate(sets: RiskSets) -> _Fit | None:
    """Newton's steps, halved where the likelihood falls; None where they do not settle."""
    beta = np.zeros(sets.design.shape[0])
    value, score, information = totals_of(sets, beta)
    null = value
    for turn in range(1, ITERATIONS_MAX + 1):
        if not np.all(np.isfinite(information)) or np.linalg.cond(information) > 1e12:
            return None
        step = np.linalg.solve(information, score)
        for _ in range(10):
            reached = totals_of(sets, beta + step)
            if reached[0] >= value - 1e-9 * abs(value):
                break
            step = step / 2.0
        beta = beta + step
        value, score, information = reached
        if np.abs(step).max() < SETTLED:
            return _Fit(beta, np.asarray(np.linalg.inv(information), dtype=np.float64), value, null, turn)
    return None


def _robust_errors(sets: RiskSets, fit: _Fit, person: NDArray[np.generic]) -> Floats:
    """Square roots of the sandwich: each person's score residuals added up, between two inverted informations."""
    residuals, whose = _score_residuals(sets, fit.beta), person[sets.order]
    if not _countable(whose):
        whose = np.unique(whose, return_inverse=True)[1]
    sums = np.array([np.bincount(whose, weights=row) for row in residuals])
    return np.asarray(np.sqrt(((fit.covariance @ sums) ** 2).sum(axis=1)), dtype=np.float64)


def _countable(whose: NDArray[np.generic]) -> bool:
    if not np.issubdtype(whose.dtype, np.integer):
        return False
    return bool(whose.min() >= 0 and whose.max() <= 4 * whose.size + 10_000)


def _score_residuals(sets: RiskSets, beta: Floats) -> Floats:
    """What each row adds to the score at its maximum, ties as the likelihood takes them."""
    theta = np.exp(beta @ sets.design)
    sums, died, tied = sums_at(sets, theta), sets.died, sets.tied
    since = theta * sets.while_watched(sums.one)
    residuals = np.array(
        [theta * sets.while_watched(mean) - since * term for mean, term in zip(sums.mean, sets.design, strict=True)]
    )
    events = sets.design[:, died]
    residuals[:, died] += events - sums.centre[:, tied]
    residuals[:, died] += theta[died] * (events * sums.tied_one[tied] - sums.tied_mean[:, tied])
    return residuals


def _constancy(sets: RiskSets, fit: _Fit) -> Floats:
    """p of each term for a hazard ratio that goes up or down with time."""
    centre = sums_at(sets, np.exp(fit.beta @ sets.design)).centre
    time = sets.time[sets.tied] - sets.time[sets.tied].mean()
    squares = float(time @ time)
    if squares == 0:
        return np.full(fit.beta.size, np.nan)
    along = np.array(
        [time @ (term[sets.died] - middle[sets.tied]) for term, middle in zip(sets.design, centre, strict=True)]
    )
    chi_squared = (fit.covariance @ along) ** 2 * time.size / (np.diag(fit.covariance) * squares)
    return np.asarray(2.0 * ndtr(-np.sqrt(chi_squared)), dtype=np.float64)


def _too_few(events: int, terms: int, events_each: int) -> str:
    needed = events_each * terms
    if events >= needed:
        return ""
    return f"too few to say: {events} recurrences, {needed} are needed for {terms} coefficients"


def _degenerate(columns: Floats, names: Sequence[str]) -> str:
    flat = [name for name, column in zip(names, columns, strict=True) if column.min() == column.max()]
    if flat:
        return f"not estimable: {', '.join(flat)} is the same for everybody"
    if np.linalg.matrix_rank(np.atleast_2d(np.corrcoef(columns)), tol=1e-10, hermitian=True) < len(names):
        return f"not estimable: of {', '.join(names)} one follows from the others"
    return ""


def _checked(design: ArrayLike, event: ArrayLike, names: Sequence[str]) -> tuple[Floats, NDArray[np.bool_]]:
    """A row a term, and the events."""
    columns, happened = np.asarray(design, dtype=np.float64), np.asarray(event, dtype=np.bool_)
    if columns.ndim != 2 or columns.shape != (happened.size, len(names)) or not names or happened.ndim != 1:
        raise ValueError(
            f"design must have a row a course and a column a name, got {columns.shape} for {happened.shape} events"
            f" and {len(names)} names"
        )
    if not np.all(np.isfinite(columns)):
        raise ValueError("design must be finite for everyone")
    return np.ascontiguousarray(columns.T), happened
