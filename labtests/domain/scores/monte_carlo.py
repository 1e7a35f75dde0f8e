"""Propagation of distributions by Monte Carlo: a check of the first-order uncertainty, from the same budget."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from core.domain.units import FloatArray
from labtests.domain.scores.curves import MJ_PER_J, STANDARD, Target
from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.scores.scatter import Scatter
from labtests.domain.scores.scoring import SCORES, Model, score
from labtests.domain.scores.uncertainty import Calibration
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
class Simulated:
    """An output: n draws, their mean and standard deviation, and the interval that holds `level` of them."""

    n: int
    mean: float
    u: float
    low: float
    high: float
    level: float


def propagate(
    inputs: Sequence[Normal | Rectangular],
    model: Callable[..., FloatArray],
    *,
    draws: int,
    rng: np.random.Generator,
    level: float = LEVEL,
) -> Simulated:
    """Propagate distributions of independent inputs through a model.

    Parameters
    ----------
    inputs : sequence of Normal or Rectangular
        In the order of the model's arguments.
    model : callable
        From one array of draws an input to an array of outputs.
    draws : int
        ≥ 100; 1,000,000 gives two digits of u.
    rng : numpy.random.Generator
        Where the draws come from.
    level : float
        Of the interval, which leaves as much above as below it.

    Returns
    -------
    Simulated
        In the unit of the model's output.

    Raises
    ------
    ValueError
        For too few draws.

    References
    ----------
    .. [1] JCGM 101:2008, 5.9, 6.4 and 7 (from memory).

    Examples
    --------
    >>> found = propagate([Normal(1.0, 3.0), Normal(2.0, 4.0)], lambda a, b: a + b, draws=100_000,
    ...                   rng=np.random.default_rng(1))
    >>> round(found.u, 1)
    5.0
    """
    _check_draws(draws)
    return _summary(model(*(each.draw(draws, rng) for each in inputs)), level)


def simulate_scores(
    evaluation: Evaluation,
    scatter: Scatter,
    calibrations: Sequence[Calibration],
    *,
    model: Model,
    draws: int,
    rng: np.random.Generator,
    target: Target = STANDARD,
) -> dict[str, Simulated]:
    """Propagate a test's budget to its four scores without derivatives.

    Parameters
    ----------
    evaluation, scatter, calibrations, model
        As `uncertainty_of_test` takes them; torque, deflection and work read, the four calibrations there.
    draws : int
        ≥ 100.
    rng : numpy.random.Generator
        Where the draws come from.

    Returns
    -------
    dict of Simulated
        By the names in `SCORES`.

    Raises
    ------
    ValueError
        For a reading or calibration that is missing, or too few draws.

    Notes
    -----
    Scatter of the mean and calibrations are normal with the u of the budget, resolutions rectangular. The t
    distribution that JCGM 101 gives a mean of few readings has no finite variance at 3 repeats: nothing to compare.
    An error of the angle or force moves the end of a curve along its secant, as the first-order budget has it; a force
    read too high ends the curve early and scales its ordinates, an error of displacement scales its abscissae.

    References
    ----------
    .. [1] JCGM 101:2008, 6.4 (from memory).

    Examples
    --------
    >>> from labtests.domain.scores.evaluation import Repeat, Summary
    >>> from labtests.domain.scores.scoring import S1
    >>> means = Summary(3, 5.1, 0.01), Summary(3, 5.9, 0.0), Summary(3, 1.3, 0.0)
    >>> known = [Calibration(name, 0.01, 0.01) for name in ("torque", "displacement", "angle", "force")]
    >>> found = simulate_scores(Evaluation((), *means, None, False, ()), Scatter(1e-4, 0, 0, 0, 2, "repeats"), known,
    ...                         model=S1, draws=1000, rng=np.random.default_rng(1))
    >>> round(found["rearfoot"].mean, 1)
    58.6
    """
    _check_draws(draws)
    torque, deflection, work = evaluation.torque_15_nm, evaluation.deflection_mm, evaluation.work_j
    if torque is None or deflection is None or work is None:
        raise ValueError("torque, deflection and work must be read, got one that is not")
    errors = _errors(calibrations, draws, rng)
    means = [torque.mean, deflection.mean, work.mean]
    together = scatter.covariance() / deflection.n
    torques, deflections, works = rng.multivariate_normal(means, together, draws, check_valid="ignore").T
    share = errors["force"] / target.force_n
    stretch = 1.0 + errors["displacement"] / deflection.mean
    torques = (torques + errors["torque"]) * (1.0 + errors["angle"] / target.angle_deg)
    # The strip that the curve gains at its end: the target force over the displacement added.
    gained = target.force_n * deflection.mean * share / MJ_PER_J
    works = (works + gained) / (1.0 + share) * stretch
    deflections = (deflections + errors["displacement"]) * (1.0 + share)
    found = score(torques, deflections, works, model=model)
    return {name: _summary(np.asarray(getattr(found, name)), LEVEL) for name in SCORES}


def _errors(calibrations: Sequence[Calibration], draws: int, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Errors of the four quantities: of the calibration, and of the display's rounding."""
    known = {calibration.quantity: calibration for calibration in calibrations}
    errors: dict[str, FloatArray] = {}
    for quantity in ("torque", "angle", "displacement", "force"):
        if quantity not in known:
            raise ValueError(f"calibrations must hold {quantity}, got {', '.join(known) or 'none'}")
        calibrated = Normal(0.0, known[quantity].standard_uncertainty)
        rounded = Rectangular(0.0, known[quantity].resolution / 2.0)
        errors[quantity] = calibrated.draw(draws, rng) + rounded.draw(draws, rng)
    return errors


def _check_draws(draws: int) -> None:
    if draws < MIN_DRAWS:
        raise ValueError(f"draws must be ≥ {MIN_DRAWS}, got {draws}")


def _summary(values: FloatArray, level: float) -> Simulated:
    tail = (1.0 - check_fraction("level", level)) / 2.0
    low, high = np.quantile(values, [tail, 1.0 - tail])
    return Simulated(len(values), float(values.mean()), float(values.std(ddof=1)), float(low), float(high), level)
