"""The first steps of a new practice that fittings can check."""

from __future__ import annotations

from django.db.models import Exists

from core.web.first_steps import Step, register
from fittings.models import Fitting


def fitting_exists() -> Exists:
    return Exists(Fitting.objects.filter(store__is_training=False))


register(
    Step(
        90,
        "First fitting",
        "A fitter records a fitting; the follow-ups are created automatically.",
        "fittings:fitting-new",
        "fittings.fitting:write",
        fitting_exists,
    )
)
