"""What else than scatter and calibrations acts on a test's readings."""

from __future__ import annotations

import math

from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.uncertainty.curve_effects import contact_effect, reading_effects
from labtests.domain.uncertainty.propagation import Effect, rectangular_u
from labtests.domain.uncertainty.temperature import temperature_effect
from labtests.domain.uncertainty.uncertainty import Calibration
from labtests.services.bench.upload_lookups import RigOnDay, UploadLookups


def effects_on_test(
    evaluation: Evaluation, on_day: RigOnDay, lookups: UploadLookups, *, temperature_c: float
) -> tuple[Effect, ...]:
    """The effects on a test, in the order in which its budget lists them."""
    target = lookups.target
    known = {each.quantity: each for each in on_day.calibrations}
    force, thermometer = known.get("force"), known.get("temperature")
    contact = (
        contact_effect(evaluation, target, u_force_n=_u(force), df=force.df, calibration=force.number) if force else ()
    )
    warmth = temperature_effect(
        evaluation,
        lookups.temperature,
        off_k=temperature_c - lookups.limits.temperature_c.nominal,
        u_k=_u(thermometer) if thermometer else 0.0,
    )
    return (*reading_effects(evaluation, target), *contact, *warmth, *_shape(evaluation, lookups))


def _shape(evaluation: Evaluation, lookups: UploadLookups) -> tuple[Effect, ...]:
    if not evaluation.work_is_estimated or evaluation.deflection_mm is None:
        return ()
    return (lookups.shape().effect(evaluation.deflection_mm.mean),)


def _u(calibration: Calibration) -> float:
    return math.hypot(calibration.standard_uncertainty, rectangular_u(calibration.resolution))
