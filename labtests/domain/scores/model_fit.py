"""Fitting a scoring model to reference shoes: anchors and weights by least squares, with residuals."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import stdtrit

from core.domain.figures import figure
from core.domain.units import FloatArray
from labtests.domain.scores.scoring import Model, score
from labtests.domain.studies.linear_fit import LineFit, fit_line
from labtests.domain.studies.series import check_fraction
from labtests.domain.studies.variance import LEVEL, Interval

MIN_SHOES = 3
"""A line takes two numbers from the shoes; at least one shoe must be left to show how well it fits."""
READING_WORDS = {"torque_15_nm": "the torque", "deflection_mm": "the deflection", "work_j": "the work"}


@dataclass(frozen=True, slots=True)
class ReferenceShoe:
    """A shoe's mean readings and the scores it is to have; None where not known."""

    name: str
    torque_15_nm: float | None = None
    deflection_mm: float | None = None
    work_j: float | None = None
    midfoot: float | None = None
    rearfoot: float | None = None
    cushioning: float | None = None
    stability: float | None = None


@dataclass(frozen=True, slots=True)
class Parameter:
    """A fitted number of the model, named as in `Model`."""

    name: str
    unit: str
    value: float
    standard_error: float
    interval: Interval


@dataclass(frozen=True, slots=True)
class Residual:
    """What is left over at a shoe: reference - fitted, in points of the score."""

    shoe: str
    reference: float
    fitted: float
    residual: float


@dataclass(frozen=True, slots=True)
class PartFit:
    """The fit of one score: its parameters, and how the n shoes with a reference lie about it."""

    score: str
    n: int
    df: int
    residual_sd: float
    parameters: tuple[Parameter, ...]
    residuals: tuple[Residual, ...]


@dataclass(frozen=True, slots=True)
class ModelFit:
    """A proposed model; `held` names the scores without references, whose numbers stay those of the base model."""

    model: Model
    parts: tuple[PartFit, ...]
    held: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Scale:
    score: str
    reading: str
    at_0: str
    at_100: str
    unit: str


_SCALES = (
    _Scale("midfoot", "torque_15_nm", "torque_0_nm", "torque_100_nm", "N·m"),
    _Scale("rearfoot", "deflection_mm", "deflection_0_mm", "deflection_100_mm", "mm"),
    _Scale("cushioning", "work_j", "work_0_j", "work_100_j", "J"),
)


def fit_model(shoes: Sequence[ReferenceShoe], *, base: Model, version: str, level: float = LEVEL) -> ModelFit:
    """Propose a scoring model from reference shoes by least squares.

    Parameters
    ----------
    shoes : sequence of ReferenceShoe
        Each score that any shoe gives is fitted, from the shoes that have both the score and its reading (stability:
        torque and deflection); ≥ 3 such shoes, with readings that differ. The other scores are held.
    base : Model
        Where held numbers come from, and which way each scale runs.
    version : str
        Name of the proposed model.
    level : float
        Of the intervals.

    Returns
    -------
    ModelFit
        The proposed model, and for each fitted score the parameters, standard errors and residuals.

    Raises
    ------
    ValueError
        For no references, too few shoes, readings that are all equal, references that run against the scale or do not
        change clearly with the reading (the slope's interval includes 0), a weight outside 0 to 1; the score is named.

    Notes
    -----
    Two steps. Anchors: each score is a straight line of its reading; the line is fitted to the references and read at 0
    and 100, with standard errors by first-order propagation. An anchor far outside the shoes' readings is an
    extrapolation, which its standard error shows. Weights: with the midfoot and rearfoot scores that the new anchors
    give, stability - rearfoot = weight x (midfoot - rearfoot) through the origin, so that the two weights add up to 1;
    their standard error takes the anchors as known.

    References
    ----------
    .. [1] Propagation: JCGM 100:2008 (GUM), 5.2. The fit itself: our own, common practice.

    Examples
    --------
    >>> from labtests.domain.scores.scoring import S1
    >>> shoes = [ReferenceShoe(str(n), torque_15_nm=1.0 + n, midfoot=10.0 + 10.0 * n) for n in range(4)]
    >>> fit = fit_model(shoes, base=S1, version="S2")
    >>> round(fit.model.torque_0_nm, 9), round(fit.model.torque_100_nm, 9), fit.held
    (0.0, 10.0, ('rearfoot', 'cushioning', 'stability'))
    """
    check_fraction("level", level)
    _check_shoes(shoes)
    model = replace(base, version=version)
    parts: list[PartFit] = []
    held: list[str] = []
    for scale in _SCALES:
        if all(getattr(shoe, scale.score) is None for shoe in shoes):
            held.append(scale.score)
            continue
        part = _fit_scale(shoes, scale, base, level)
        anchors = {parameter.name: parameter.value for parameter in part.parameters}
        model = replace(model, **anchors)  # type: ignore[arg-type]  # all anchors are floats
        parts.append(part)
    if all(shoe.stability is None for shoe in shoes):
        held.append("stability")
    else:
        part, weight = _fit_weights(shoes, model, level)
        model = replace(model, weight_midfoot=weight, weight_rearfoot=1.0 - weight)
        parts.append(part)
    if not parts:
        raise ValueError("at least one shoe must have a reference score, got none")
    return ModelFit(model, tuple(parts), tuple(held))


def _check_shoes(shoes: Sequence[ReferenceShoe]) -> None:
    for shoe in shoes:
        for name in shoe.__slots__[1:]:
            value = getattr(shoe, name)
            if value is not None and not math.isfinite(value):
                raise ValueError(f"{name} of {shoe.name} must be finite, got {value}")


def _usable(shoes: Sequence[ReferenceShoe], score_name: str, readings: Sequence[str]) -> list[ReferenceShoe]:
    """Shoes with the score and all its readings; too few is an error."""
    wanted = (score_name, *readings)
    usable = [shoe for shoe in shoes if all(getattr(shoe, name) is not None for name in wanted)]
    if len(usable) < MIN_SHOES:
        needed = " and ".join(READING_WORDS[name] for name in readings)
        words = f"at least {MIN_SHOES} reference shoes with a {score_name} score must have {needed}"
        raise ValueError(f"{words}, got {len(usable)}")
    return usable


def _column(shoes: Sequence[ReferenceShoe], name: str) -> FloatArray:
    return np.array([getattr(shoe, name) for shoe in shoes], dtype=np.float64)


def _fit_scale(shoes: Sequence[ReferenceShoe], scale: _Scale, base: Model, level: float) -> PartFit:
    usable = _usable(shoes, scale.score, [scale.reading])
    readings, references = _column(usable, scale.reading), _column(usable, scale.score)
    words = READING_WORDS[scale.reading]
    if np.ptp(readings) == 0.0:
        raise ValueError(f"{words} must differ between the reference shoes, got {figure(readings[0])} from all")
    if np.ptp(references) == 0.0:
        same = figure(references[0])
        raise ValueError(f"the {scale.score} score must differ between the reference shoes, got {same} from all")
    line = fit_line(readings, references, level=level)
    base_rises = getattr(base, scale.at_100) > getattr(base, scale.at_0)
    if not line.is_slope_shown:
        bounds = f"{figure(line.slope_interval.low, 4)} to {figure(line.slope_interval.high, 4)}"
        raise ValueError(f"the {scale.score} score must change clearly with {words}, got a slope of {bounds}")
    if (line.slope > 0.0) != base_rises:
        way = "rise" if base_rises else "fall"
        raise ValueError(f"the {scale.score} score must {way} with {words}, got a slope of {figure(line.slope)}")
    anchors = tuple(
        _anchor(line, at, name=name, unit=scale.unit) for at, name in ((0.0, scale.at_0), (100.0, scale.at_100))
    )
    return PartFit(
        score=scale.score,
        n=line.n,
        df=line.df,
        residual_sd=line.residual_sd,
        parameters=anchors,
        residuals=_residuals(usable, references, references - line.residuals),
    )


def _anchor(line: LineFit, at: float, *, name: str, unit: str) -> Parameter:
    """The reading at which the line has the score `at`; its error from those of the line, which are correlated."""
    # About the mean reading, height and slope of the line are uncorrelated, which keeps the digits.
    away = (at - line.y_mean) / line.slope
    error = math.sqrt(line.residual_sd**2 / line.n + (away * line.slope_se) ** 2) / abs(line.slope)
    value = line.x_mean + away
    return Parameter(name, unit, value, error, _interval(value, error, line.t, line.level))


def _interval(value: float, error: float, t: float, level: float) -> Interval:
    return Interval(value - t * error, value + t * error, level)


def _fit_weights(shoes: Sequence[ReferenceShoe], model: Model, level: float) -> tuple[PartFit, float]:
    usable = _usable(shoes, "stability", ["torque_15_nm", "deflection_mm"])
    torque, deflection = _column(usable, "torque_15_nm"), _column(usable, "deflection_mm")
    scores = score(torque, deflection, np.zeros(len(usable)), model=model)
    apart = scores.midfoot - scores.rearfoot
    # Under a thousandth of a point the two scores are one, and any weight would do.
    if np.abs(apart).max() < 1e-3:
        raise ValueError("midfoot and rearfoot must differ in some reference shoe to weigh them, got the same in all")
    references = _column(usable, "stability")
    square = float(apart @ apart)
    weight = float(apart @ (references - scores.rearfoot)) / square
    if not -1e-9 <= weight <= 1.0 + 1e-9:
        raise ValueError(f"the weight of midfoot must be from 0 to 1, stability references ask for {figure(weight, 4)}")
    weight = min(1.0, max(0.0, weight))
    fitted = weight * scores.midfoot + (1.0 - weight) * scores.rearfoot
    df = len(usable) - 1
    sd = math.sqrt(float(np.sum((references - fitted) ** 2)) / df)
    error, t = sd / math.sqrt(square), -float(stdtrit(df, (1.0 - level) / 2.0))
    weights = (("weight_midfoot", weight), ("weight_rearfoot", 1.0 - weight))
    parameters = tuple(Parameter(name, "1", value, error, _interval(value, error, t, level)) for name, value in weights)
    residuals = _residuals(usable, references, fitted)
    return PartFit("stability", len(usable), df, sd, parameters, residuals), weight


def _residuals(shoes: Sequence[ReferenceShoe], references: FloatArray, fitted: FloatArray) -> tuple[Residual, ...]:
    rows = zip(shoes, references.tolist(), fitted.tolist(), strict=True)
    return tuple(Residual(shoe.name, reference, value, reference - value) for shoe, reference, value in rows)
