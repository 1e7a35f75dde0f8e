"""A second fitter's observation of the same person, made without knowing the first."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from core import audit
from core.domain.errors import DomainError
from core.models import User
from fittings.domain.fitting.intake import FootIntake
from fittings.models import Fitting, SecondObservation
from fittings.services.checks import Problems, check_record, require

SEEN = (
    ("pronation", "grade"),
    ("tibial_rotation", "grade"),
    ("rearfoot_eversion", "grade"),
    ("fpi6", "fpi6"),
    ("pronation_deg", "degrees"),
    ("tibial_rotation_deg", "degrees"),
    ("rearfoot_eversion_deg", "degrees"),
    ("navicular_drop_mm", "navicular_drop_mm"),
    ("length_mm", "length_mm"),
    ("width_mm", "width_mm"),
)


@transaction.atomic
def second_observation_record(
    *, actor: User, fitting: Fitting, left: FootIntake, right: FootIntake, at: dt.datetime | None = None
) -> list[SecondObservation]:
    """Record what a second fitter saw. It changes nothing of the fitting; it tells how far two fitters agree.

    Raises
    ------
    DomainError
        404 for another store, 409 for one's own fitting, one not kept, or a second look made already, 400 where
        nothing was seen or a value is out of range.
    """
    require(actor, "fittings.second_look:write", fitting.store)
    locked = Fitting.objects.select_for_update().get(pk=fitting.pk)
    _check(locked, actor)
    problems = Problems()
    feet = {"left": left, "right": right}
    for foot, seen in feet.items():
        for name, limits in SEEN:
            problems.limit(f"{foot}.{name}", getattr(seen, name), limits)
    problems.refuse()
    if all(getattr(seen, name) is None for seen in feet.values() for name, _ in SEEN):
        raise DomainError("Grade at least one thing of one foot, or measure one.", code="empty")
    moment = at or timezone.now()
    made = []
    for foot, seen in feet.items():
        values = {name: getattr(seen, name) for name, _ in SEEN}
        record = SecondObservation(fitting=locked, fitter=actor, at=moment, foot=foot, **values)
        check_record(record)
        record.save()
        made.append(record)
    audit.record_many(
        [audit.Change("fittings.second_observation.recorded", item, store=fitting.store) for item in made], actor=actor
    )
    return made


def _check(fitting: Fitting, actor: User) -> None:
    if not fitting.kept:
        raise DomainError(
            "This fitting was not stored, because there was no consent, so nothing can be added to it.",
            code="not_kept",
            status=409,
        )
    if fitting.fitter_id == actor.pk:
        raise DomainError(
            "A second look is taken by somebody else than the fitter of the fitting.", code="own_fitting", status=409
        )
    if SecondObservation.objects.filter(fitting=fitting).exists():
        raise DomainError("A second look was recorded already.", code="already_looked", status=409)
