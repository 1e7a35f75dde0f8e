"""What the page of a calibration shows, worded before the template."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from core.domain.figures import figure
from core.models import User
from core.web import display
from labtests.domain.conditions.calibration_fit import fit_points
from labtests.forms.quantities import with_unit
from labtests.models import Calibration
from labtests.selectors.bench.calibrations import DriftSince


@dataclass(frozen=True, slots=True)
class PointLine:
    """A point of the certificate: what the rig showed at a value of the standard, and its error before and after."""

    reference: str
    found: str
    found_error: str
    left: str
    left_error: str


@dataclass(frozen=True, slots=True)
class DriftLine:
    """The change of the error at a value of the standard, and whether the certificates leave that open."""

    reference: str
    drift: str
    u: str
    is_beyond: bool


def calibration_facts(calibration: Calibration) -> list[tuple[str, str]]:
    unit = calibration.unit
    facts = [
        ("Quantity", calibration.quantity),
        ("Certificate", calibration.certificate),
        ("Laboratory", calibration.laboratory),
        ("Reference standard", calibration.reference_standard),
        ("Calibrated", display.day(calibration.calibrated_on)),
        ("Due", display.day(calibration.due_on)),
        ("Standard uncertainty (k = 1)", _value(calibration.standard_uncertainty, unit)),
        ("Degrees of freedom", _df(calibration.degrees_of_freedom)),
        ("Resolution", _value(calibration.resolution, unit)),
        ("Range", _range(calibration)),
        ("Zero error", _value(calibration.zero, unit)),
        ("Gain", "" if calibration.gain is None else figure(calibration.gain)),
        ("Recorded", _who(calibration.recorded_by, calibration.recorded_at)),
        ("Signed", _signed(calibration)),
    ]
    return [(name, words) for name, words in (*facts, *_fit_facts(calibration)) if words]


def _fit_facts(calibration: Calibration) -> list[tuple[str, str]]:
    """What the points say; empty where they are too few."""
    fit = fit_points(calibration.to_domain().points)
    if fit is None:
        return []
    unit = calibration.unit
    zero = f"{with_unit(figure(fit.zero, 3, plus=True), unit)} (u {with_unit(figure(fit.zero_u, 2), unit)})"
    correlation = display.signed(fit.correlation, 2)
    gain = f"{figure(fit.gain)} (u {figure(fit.gain_u, 2)}, correlation with the zero {correlation})"
    return [
        ("Zero by the points", f"{zero}, {fit.n} points, {fit.df} degrees of freedom"),
        ("Gain by the points", gain),
        ("Largest distance from that line", with_unit(figure(fit.non_linearity, 2), unit)),
    ]


def _value(value: float | None, unit: str) -> str:
    return "" if value is None else with_unit(figure(value), unit)


def _df(value: float | None) -> str:
    return "not limited" if value is None else figure(value)


def _range(calibration: Calibration) -> str:
    if calibration.range_low is None or calibration.range_high is None:
        return ""
    return f"{figure(calibration.range_low)} to {with_unit(figure(calibration.range_high), calibration.unit)}"


def _who(person: User | None, at: dt.datetime | None) -> str:
    if at is None:
        return ""
    return f"{display.moment(at)}, by {person.display_name}" if person else display.moment(at)


def _signed(calibration: Calibration) -> str:
    if not calibration.needs_signature:
        return "no second signature needed"
    return _who(calibration.signed_by, calibration.signed_at) or "not yet"


def point_lines(calibration: Calibration) -> list[PointLine]:
    return [
        PointLine(
            figure(point.reference),
            figure(point.found),
            figure(point.found_error, 3, plus=True),
            display.MISSING if point.left is None else figure(point.left),
            figure(point.left_error, 3, plus=True),
        )
        for point in calibration.to_domain().points
    ]


def drift_lines(found: DriftSince, unit: str) -> list[DriftLine]:
    return [
        DriftLine(
            with_unit(figure(drift.reference), unit),
            with_unit(figure(drift.drift, 3, plus=True), unit),
            with_unit(figure(drift.u, 2), unit),
            drift.is_beyond,
        )
        for drift in found.drifts
    ]
