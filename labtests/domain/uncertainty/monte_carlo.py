"""Propagation of distributions by Monte Carlo: a check of the first-order uncertainty, from the curves themselves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.curves.curve_draws import Response
from labtests.domain.scores.scoring import SCORES, Model, score
from labtests.domain.studies.series import check_fraction
from labtests.domain.studies.variance import LEVEL

MIN_DRAWS = 100


@dataclass(frozen=True, slots=True)
class Normal:
    """An input that is normally distributed: standard uncertainty u about its estimate."""

    estimate: float
    u: float

    def draw(self, n: int, rng: np.random.Generator) -> FloatArray:
        return rng.normal(self.estimate, self.u, n)


@dataclass(frozen=True, slots=True)
class Rectangular:
    """An input of which only the bounds are known: evenly spread over estimate ± half_width."""

    estimate: float
    half_width: float

    def draw(self, n: int, rng: np.random.Generator) -> FloatArray:
        return rng.uniform(self.estimate - self.half_width, self.estimate + self.half_width, n)


@dataclass(frozen=True, slots=True)
class ScaledT:
    """An input known from few observations: Student's t about 0 with scale u (JCGM 101, 6.4.9)."""

    u: float
    df: float

    def draw(self, n: int, rng: np.random.Generator) -> FloatArray:
        return self.u * rng.standard_t(self.df, n)


Drawn = Normal | Rectangular | ScaledT


@dataclass(frozen=True, slots=True)
class Simulated:
    """An output: n draws, their mean and standard deviation, and the interval that holds `level` of them."""

    n: int
    mean: float
    u: float
    low: float
    high: float
    level: float

    @property
    def half_width(self) -> float:
        """Half the width of the interval."""
        return (self.high - self.low) / 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Inputs:
    """What a test's scores are drawn from.

    Attributes
    ----------
    means : array, shape (3,)
        Torque (N·m), deflection (mm) and work (J) as read.
    covariance : array, shape (3, 3)
        Of their means by the scatter of the repeats.
    df : float
        Degrees of freedom of that scatter; inf where it is known.
    errors : mapping
        By "torque", "angle", "displacement", "force" and "contact" what makes up the error of each, estimates 0; the
        last two are the force at the target and at the contact.
    others : sequence of (input, mapping)
        What else acts on the scores, in a straight line: by score the change by one unit.
    """

    means: FloatArray
    covariance: FloatArray
    df: float
    errors: Mapping[str, Sequence[Drawn]]
    others: Sequence[tuple[Drawn, Mapping[str, float]]] = ()


def simulate_scores(
    response: Response,
    inputs: Inputs,
    *,
    model: Model,
    draws: int,
    rng: np.random.Generator,
    level: float = LEVEL,
) -> dict[str, Simulated]:
    """Propagate distributions to a test's four scores without derivatives.

    Parameters
    ----------
    response : Response
        What the test reads under errors of the angle and the force.
    inputs : Inputs
        Distributions of everything that acts on the readings.
    model : Model
        The scoring model.
    draws : int
        ≥ 100.
    rng : numpy.random.Generator
        Where the draws come from.
    level : float
        Of the intervals.

    Returns
    -------
    dict of Simulated
        By the names in `SCORES`. Of few repeats u has little meaning: Student's t of 2 degrees of freedom has no
        variance. The interval has.

    Raises
    ------
    ValueError
        For too few draws.

    Notes
    -----
    The means of the repeats are drawn from a scaled and shifted t distribution, for the three readings at once. An
    error of the displacement scales deflection and work.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4.9 and 7 (from memory).

    Examples
    --------
    >>> from labtests.domain.scores.scoring import S1
    >>> exact = Response(lambda angle: 5.1 + 0 * angle, lambda contact, end: (5.9 + 0 * contact, 1.3 + 0 * end))
    >>> known = Inputs(np.array([5.1, 5.9, 1.3]), np.diag([1e-4, 0.0, 0.0]), 2.0, {})
    >>> found = simulate_scores(exact, known, model=S1, draws=1000, rng=np.random.default_rng(1))
    >>> round(found["rearfoot"].mean, 1)
    58.6
    """
    _check_draws(draws)
    errors = {
        name: sum((each.draw(draws, rng) for each in inputs.errors.get(name, ())), np.zeros(draws))
        for name in ("torque", "angle", "displacement", "force", "contact")
    }
    scatter = _scatter(inputs, draws, rng)
    deflection, work = response.compression(errors["contact"], errors["force"])
    stretch = 1.0 + errors["displacement"] / inputs.means[1]
    found = score(
        response.torque_nm(errors["angle"]) + errors["torque"] + scatter[:, 0],
        deflection * stretch + scatter[:, 1],
        work * stretch + scatter[:, 2],
        model=model,
    )
    values = {name: np.array(getattr(found, name)) for name in SCORES}
    for each, acts in inputs.others:
        drawn = each.draw(draws, rng)
        for name, sensitivity in acts.items():
            values[name] += sensitivity * drawn
    return {name: summary_of(values[name], level) for name in SCORES}


def _scatter(inputs: Inputs, draws: int, rng: np.random.Generator) -> FloatArray:
    """Deviations of the three means, by a t distribution whose scale is their covariance; shape (draws, 3)."""
    normal = rng.multivariate_normal(np.zeros(len(inputs.means)), inputs.covariance, draws, check_valid="ignore")
    if not np.isfinite(inputs.df):
        return normal
    return normal * np.sqrt(inputs.df / rng.chisquare(inputs.df, draws))[:, np.newaxis]


def _check_draws(draws: int) -> None:
    if draws < MIN_DRAWS:
        raise ValueError(f"draws must be ≥ {MIN_DRAWS}, got {draws}")


def summary_of(values: FloatArray, level: float) -> Simulated:
    """Mean, standard deviation and interval of draws of an output; the interval leaves as much above as below it.

    References
    ----------
    .. [1] JCGM 101:2008, 7.6 and 7.7 (from memory).

    Examples
    --------
    >>> found = summary_of(np.arange(101.0), 0.9)
    >>> found.mean, round(found.low, 6), round(found.high, 6)
    (50.0, 5.0, 95.0)
    """
    tail = (1.0 - check_fraction("level", level)) / 2.0
    low, high = np.quantile(values, [tail, 1.0 - tail])
    return Simulated(len(values), float(values.mean()), float(values.std(ddof=1)), float(low), float(high), level)
