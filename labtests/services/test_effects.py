"""What else than scatter and calibrations acts on a test's readings."""

from __future__ import annotations

import math
from collections.abc import Sequence

from labtests.domain.scores.curves import Target
from labtests.domain.scores.effects import contact_effect, reading_effects
from labtests.domain.scores.evaluation import Evaluation
from labtests.domain.scores.propagation import Effect, rectangular_u
from labtests.domain.scores.uncertainty import Calibration


def effects_on_test(evaluation: Evaluation, calibrations: Sequence[Calibration], target: Target) -> tuple[Effect, ...]:
    """The effects on a test, in the order in which its budget lists them."""
    return (*reading_effects(evaluation, target), *_contact(evaluation, calibrations, target))


def _contact(evaluation: Evaluation, calibrations: Sequence[Calibration], target: Target) -> tuple[Effect, ...]:
    force = next((each for each in calibrations if each.quantity == "force"), None)
    if force is None:
        return ()
    u = math.hypot(force.standard_uncertainty, rectangular_u(force.resolution))
    return contact_effect(evaluation, target, u_force_n=u, calibration=force.number)
