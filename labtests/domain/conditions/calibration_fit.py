"""Zero, gain and linearity from the points of a certificate, and how they act on the readings of a test."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labtests.domain.conditions.calibrations import Point
from labtests.domain.curves.curves import Target
from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.studies.linear_fit import MIN_POINTS, fit_line
from labtests.domain.uncertainty.propagation import Component, Effect

PERCENT = 100.0


@dataclass(frozen=True, slots=True)
class CalibrationFit:
    """What the points of a certificate say: error = zero + (gain - 1) · reference, in the quantity's unit.

    `zero_u`, `gain_u` and their `correlation` have n - 2 degrees of freedom. `centre` is the mean of the references and
    `centre_u` the standard uncertainty of the line there, which is independent of the gain's. `non_linearity` is the
    largest distance of a point from the line.
    """

    n: int
    zero: float
    gain: float
    zero_u: float
    gain_u: float
    correlation: float
    non_linearity: float
    centre: float
    centre_u: float

    @property
    def df(self) -> int:
        return self.n - 2

    def error_at(self, reference: float) -> float:
        """Error of the rig by the line at a value of the standard."""
        return self.zero + (self.gain - 1.0) * reference


@dataclass(frozen=True, slots=True)
class Use:
    """How a quantity enters the readings of a test.

    `direct` are the changes of torque (N·m), deflection (mm) and work (J) by one unit of the quantity. `at` is the
    value at which it is read; where `is_difference`, it is read as a difference of this size from a zero that is
    subtracted.
    """

    direct: tuple[float, float, float]
    at: float
    is_difference: bool


def fit_points(points: Sequence[Point]) -> CalibrationFit | None:
    """Fit zero and gain to the points of a certificate, as left.

    Parameters
    ----------
    points : sequence of Point
        Any number.

    Returns
    -------
    CalibrationFit or None
        None for fewer than three points, or none that differ in their reference: the certificate's single figure is all
        that there is then.

    Notes
    -----
    Ordinary least squares of the error on the reference; the scatter of the points about the line is taken to be the
    same everywhere.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), H.3: calibration line with the correlation of its intercept and slope.

    Examples
    --------
    >>> fit = fit_points([Point(0.0, 0.1), Point(100.0, 100.3), Point(200.0, 200.5)])
    >>> round(fit.zero, 3), round(fit.gain, 4), round(fit.correlation, 3)
    (0.1, 1.002, -0.775)
    """
    references = [point.reference for point in points]
    if len(set(references)) < MIN_POINTS:
        return None
    line = fit_line(references, [point.left_error for point in points])
    spread = line.intercept_se * line.slope_se
    return CalibrationFit(
        n=line.n,
        zero=line.intercept,
        gain=1.0 + line.slope,
        zero_u=line.intercept_se,
        gain_u=line.slope_se,
        correlation=line.covariance / spread if spread > 0.0 else 0.0,
        non_linearity=float(max(abs(line.residuals))),
        centre=line.x_mean,
        centre_u=line.residual_sd / math.sqrt(line.n),
    )


def calibration_effects(
    fits: Mapping[str, tuple[CalibrationFit, int | None]],
    direct: Mapping[str, Sequence[float]],
    evaluation: Evaluation,
    target: Target,
) -> list[Effect]:
    """What the fitted calibrations of a rig leave open in the readings of a test.

    Parameters
    ----------
    fits : mapping of CalibrationFit and the number of its record by quantity
        Of torque, angle, displacement and force those whose certificates have points.
    direct : mapping of three floats by quantity
        Changes of torque (N·m), deflection (mm) and work (J) by one unit of the quantity.
    evaluation : Evaluation
        With torque and deflection read. Torque is less the torque at 0° where a repeat has a zero offset; deflection
        is counted from contact.
    target : Target
        What the protocol reads the curves at.

    Examples
    --------
    >>> calibration_effects({}, {}, Evaluation((), None, None, None, None, False, ()), Target())
    []
    """
    torque, deflection = evaluation.torque_15_nm, evaluation.deflection_mm
    is_zeroed = any(repeat.zero_offset_nm is not None for repeat in evaluation.repeats)
    read_at = {
        "torque": ("N·m", torque.mean if torque else 0.0, is_zeroed),
        "angle": ("°", target.angle_deg, False),
        "displacement": ("mm", deflection.mean if deflection else 0.0, True),
        "force": ("N", target.force_n, False),
    }
    effects: list[Effect] = []
    for quantity, (unit, at, is_difference) in read_at.items():
        if quantity in fits:
            fit, number = fits[quantity]
            t, d, w = direct[quantity]
            effects += fit_effects(quantity, unit, fit, Use((t, d, w), at, is_difference), number)
    return effects


def fit_effects(quantity: str, unit: str, fit: CalibrationFit, use: Use, number: int | None) -> tuple[Effect, ...]:
    """What zero, gain and linearity of one quantity leave open in the readings of a test.

    Parameters
    ----------
    quantity, unit : str
        Its name, which opens the names of the sources, and its unit.
    fit : CalibrationFit
        From its certificate.
    use : Use
        How it enters the readings.
    number : int or None
        The calibration's record.

    Returns
    -------
    tuple of Effect
        Independent sources: the zero (where it does not cancel), the gain, the linearity, and the error by the line,
        which is known but not corrected.

    Notes
    -----
    A zero that a reading subtracts cancels; the gain acts on the difference. Where a value is read as it is, the gain
    turns about the mean of the points, where it is independent of the line's height: u² = u(centre)² + (x - centre)²
    u(gain)², which is u(zero)² + x² u(gain)² + 2 x r u(zero) u(gain). The largest distance from the line is taken as
    the half-width of a rectangular distribution. Readings are not corrected: the known error is added in squares.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2.2, F.2.4.5 (uncorrected errors; from memory) and H.3.

    Examples
    --------
    >>> fit = fit_points([Point(0.0, 0.1), Point(100.0, 100.3), Point(200.0, 200.5)])
    >>> use = Use((1.0, 0.0, 0.0), at=50.0, is_difference=True)
    >>> [effect.component.source for effect in fit_effects("torque", "N·m", fit, use, None)]
    ['torque, calibration: gain', 'torque, calibration: linearity', 'torque, calibration: known error']
    """
    if use.is_difference:
        lever, error, times = use.at, abs(fit.gain - 1.0) * PERCENT, use.at / PERCENT
    else:
        lever, error, times = use.at - fit.centre, abs(fit.error_at(use.at)), 1.0
    error_unit = "%" if use.is_difference else unit
    rows = [
        ("zero", fit.centre_u, unit, float(fit.df), 0.0 if use.is_difference else 1.0),
        ("gain", fit.gain_u * PERCENT, "%", float(fit.df), lever / PERCENT),
        ("linearity", fit.non_linearity / math.sqrt(3.0), unit, math.inf, 1.0),
        ("known error", error, error_unit, math.inf, times),
    ]
    t, d, w = use.direct
    return tuple(
        Effect(
            Component(f"{quantity}, calibration: {name}", "B", u, of_unit, df, number), (t * felt, d * felt, w * felt)
        )
        for name, u, of_unit, df, felt in rows
        if felt
    )
