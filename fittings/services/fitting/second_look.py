"""A second fitter's observation of the same person, made without knowing the first."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from catalogue.models import Shoe
from core import audit
from core.domain.errors import DomainError
from core.models import User
from fittings.domain.fitting.intake import FOOT_LIMITS, FootIntake, Look
from fittings.domain.fitting.looks import OBSERVED, condition_words
from fittings.models import Fitting, SecondObservation
from fittings.selectors.fitting.cutoffs import current_cutoffs
from fittings.services.fitting.checks import Problems, check_looks, check_record, require
from fittings.services.fitting.grading import graded_looks
from fittings.services.fitting.looks import shoes_looked_at


@transaction.atomic
def second_observation_record(
    *,
    actor: User,
    fitting: Fitting,
    left: FootIntake,
    right: FootIntake,
    looks: Sequence[Look] = (),
    at: dt.datetime | None = None,
) -> list[SecondObservation]:
    """Record what a second fitter saw. It changes nothing of the fitting; it shows how far two fitters agree.

    Parameters
    ----------
    left, right : the person walking barefoot, as in the observation; may be empty where there are other looks
    looks : other looks, each once

    Raises
    ------
    DomainError
        404 for another store, 409 for one's own fitting, one not stored, or a second look of the same kind made
        already, 400 where nothing was seen or a value is out of range.
    """
    require(actor, "fittings.second_look:write", fitting.store)
    locked = Fitting.objects.select_for_update().get(pk=fitting.pk)
    _check(locked, actor)
    check_seen(left, right, has_looks=bool(looks))
    problems = Problems()
    check_looks(problems, looks)
    problems.refuse()
    taken = [Look(OBSERVED, left, right)] if _anything(left, right) else []
    taken += graded_looks(looks, current_cutoffs()) if looks else ()
    _check_new(locked, taken)
    shoes = shoes_looked_at(looks)
    made = [
        _record(locked, actor, look, foot, seen, shoe=shoes.get(look.condition.shoe), at=at or timezone.now())
        for look in taken
        for foot, seen in look.feet()
    ]
    audit.record_many(
        [audit.Change("fittings.second_observation.recorded", item, store=fitting.store) for item in made], actor=actor
    )
    return made


def check_seen(left: FootIntake, right: FootIntake, *, has_looks: bool = False) -> None:
    """Refuse values out of range, and a second look at which nothing was seen."""
    problems = Problems()
    for foot, seen in (("left", left), ("right", right)):
        for name, limits in FOOT_LIMITS.items():
            problems.limit(f"{foot}.{name}", getattr(seen, name), limits)
    problems.refuse()
    if not has_looks and not _anything(left, right):
        raise DomainError("Grade at least one thing of one foot, or measure one.", code="empty")


def _anything(*feet: FootIntake) -> bool:
    return any(getattr(seen, name) is not None for seen in feet for name in FOOT_LIMITS)


def _record(
    fitting: Fitting, actor: User, look: Look, foot: str, seen: FootIntake, *, shoe: Shoe | None, at: dt.datetime
) -> SecondObservation:
    record = SecondObservation(
        fitting=fitting,
        fitter=actor,
        at=at,
        foot=foot,
        gait=look.condition.gait,
        worn=look.condition.worn,
        shoe=shoe,
        **{name: getattr(seen, name) for name in FOOT_LIMITS},
    )
    check_record(record)
    record.save()
    return record


def _check(fitting: Fitting, actor: User) -> None:
    if not fitting.kept:
        raise DomainError(
            "This fitting was not stored, because there was no consent, so nothing can be added to it.",
            code="not_kept",
            status=409,
        )
    if fitting.fitter_id == actor.pk:
        raise DomainError(
            "A second look must be taken by somebody other than the fitter of the fitting.",
            code="own_fitting",
            status=409,
        )


def _check_new(fitting: Fitting, looks: Sequence[Look]) -> None:
    """Refuse a look that was taken a second time already."""
    rows = SecondObservation.objects.filter(fitting=fitting).values_list("gait", "worn", "shoe__slug")
    there = {(gait, worn, shoe or "") for gait, worn, shoe in rows}
    for look in looks:
        condition = look.condition
        if (condition.gait, condition.worn, condition.shoe) in there:
            words = f"A second look {condition_words(condition)} was already recorded."
            raise DomainError(words, code="already_looked", status=409)
