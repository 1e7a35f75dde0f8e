"""Correcting or taking back what was seen in motion: a look, the observation, a measure on a picture.

What was recorded is set aside with a reason and stays readable; it counts nowhere. The successor keeps the day and the
fitter of what it replaces. The target of the fitting stays as it was said to the customer.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction
from django.utils import timezone

from core import audit
from core.audit import Change
from core.domain.errors import DomainError, field_error, required_reason
from core.models import User
from fittings.domain.fitting.angles import MeasuredTwice, mean_of_readings
from fittings.domain.fitting.grading import SIGN_COLUMNS, is_measured
from fittings.domain.fitting.intake import FootIntake, Look
from fittings.domain.fitting.looks import OBSERVED, condition_words
from fittings.models import Fitting, FootObservation, LookFoot, PictureAngle, SecondObservation, SupersededLook
from fittings.selectors.fitting.cutoffs import current_cutoffs
from fittings.selectors.fitting.looks import OBSERVATION, look_numbered, looks_at, observed_look, picture_angle_get
from fittings.services.fitting.checks import Problems, check_looks, check_record, check_signs
from fittings.services.fitting.choice import REASON_MAX, fitting_lock
from fittings.services.fitting.grading import graded_looks
from fittings.services.fitting.looks import looks_store, movements_store, shoes_looked_at

Content = dict[str, Any]


@transaction.atomic
def look_correct(*, actor: User, fitting: Fitting, number: int, look: Look | None, reason: str) -> None:
    """Replace a look by what was really seen, or take it back. What each shoe changed is worked out again.

    Parameters
    ----------
    number : of the look (`Taken.number`), or `OBSERVATION` for the look walking barefoot
    look : what takes its place; None to take it back, which an observation can't be
    reason : why, in words

    Raises
    ------
    DomainError
        400 naming every bad field, without a reason, or where nothing changes; 404 for another store or no such look;
        409 where it was corrected before, by who took the second look, or where nothing was stored of the fitting.
    """
    locked = fitting_lock(fitting, actor)
    why = required_reason(reason, at_most=REASON_MAX)
    before = audit.snapshot(locked)
    if number == OBSERVATION:
        was = _observation_correct(locked, look, _Why(actor, why))
    else:
        was = _look_correct(locked, number, look, _Why(actor, why))
    movements_store(locked)
    _write_trail(actor, locked, was, before)


@transaction.atomic
def angle_correct(
    *, actor: User, fitting: Fitting, number: int, readings: tuple[float, float] | None, reason: str
) -> None:
    """Replace a measure on a picture by two other readings, or take it back.

    The degrees that the observation took from it are corrected with the observation.

    Raises
    ------
    DomainError
        As `look_correct`.
    """
    locked = fitting_lock(fitting, actor)
    why = _Why(actor, required_reason(reason, at_most=REASON_MAX))
    old = picture_angle_get(locked, number)
    _check_may(locked, why, old.by_id)
    made = None if readings is None else _measured(old.kind, readings)
    if made is not None and (made.mean, made.apart) == (old.mean, old.apart):
        raise _nothing_changed("first")
    before = audit.snapshot(locked)
    content = {"measure": old.kind, "foot": old.foot, "mean": old.mean, "apart": old.apart}
    was = _set_aside(locked, number, content, (old.at, old.by), why)
    old.delete()
    if made is not None:
        PictureAngle.objects.bulk_create(
            [PictureAngle(fitting=locked, foot=old.foot, kind=old.kind, by=old.by, at=old.at, **_stored(made))]
        )
    _write_trail(actor, locked, was, before)


@dataclass(frozen=True, slots=True)
class _Why:
    """Who corrects, and why."""

    by: User
    reason: str


def _look_correct(fitting: Fitting, number: int, look: Look | None, why: _Why) -> SupersededLook:
    old, name = look_numbered(fitting, number)
    row = LookFoot.objects.select_related("by").get(pk=number)
    _check_may(fitting, why, row.by_id)
    graded, cutoffs_pk = (None, None) if look is None else _checked(look, but=old, there=looks_at(fitting).looks)
    shoes = {} if graded is None else shoes_looked_at([graded])
    was = _set_aside(fitting, number, _content(old, name), (row.at, row.by), why)
    LookFoot.objects.filter(fitting=fitting, gait=row.gait, worn=row.worn, shoe=row.shoe_id).delete()
    if graded is not None:
        looks_store(fitting, [graded], shoes, cutoffs_pk=cutoffs_pk, by=row.by, at=row.at)
    return was


def _checked(look: Look, *, but: Look, there: tuple[Look, ...]) -> tuple[Look, int | None]:
    """The look with its grades, and the cut-offs that made them; refused where it is there or says nothing new."""
    problems = Problems()
    check_looks(problems, [look])
    others = {item.condition for item in there} - {but.condition}
    if look.condition in others:
        problems.add("looks.0.worn", f"The look {condition_words(look.condition)} was already recorded.")
    problems.refuse()
    graded, cutoffs_pk = _graded(look)
    graded = replace(graded, apart=_apart(graded, but))
    if graded == but:
        raise _nothing_changed("looks.0.left.pronation")
    return graded, cutoffs_pk


def _apart(look: Look, was: Look) -> tuple[float | None, float | None]:
    """How far readings on pictures differ: of an angle that was not touched it is as it was."""
    left, right = (
        before if now is None and foot.rearfoot_eversion_deg == old.rearfoot_eversion_deg else now
        for (_, foot), (_, old), now, before in zip(look.feet(), was.feet(), look.apart, was.apart, strict=True)
    )
    return left, right


def _graded(look: Look) -> tuple[Look, int | None]:
    cutoffs = current_cutoffs() if any(is_measured(foot) for _, foot in look.feet()) else None
    return graded_looks([look], cutoffs)[0], cutoffs.pk if cutoffs else None


def _observation_correct(fitting: Fitting, look: Look | None, why: _Why) -> SupersededLook:
    if look is None:
        words = "An observation is not taken back, because the target followed from it. Correct what was seen."
        raise field_error("looks.0.left.pronation", words)
    _check_may(fitting, why, fitting.fitter_id)
    old = observed_look(fitting)
    problems = Problems()
    check_signs(problems, "looks.0", look)
    problems.refuse()
    graded, cutoffs_pk = _graded(replace(look, condition=OBSERVED, apart=(None, None)))
    if graded == old:
        raise _nothing_changed("looks.0.left.pronation")
    was = _set_aside(fitting, OBSERVATION, _content(old, ""), (fitting.at, fitting.fitter), why)
    for side, foot in graded.feet():
        _observed_write(fitting, side, foot, cutoffs_pk)
    return was


def _observed_write(fitting: Fitting, side: str, foot: FootIntake, cutoffs_pk: int | None) -> None:
    row = FootObservation.objects.filter(fitting=fitting, foot=side).first()
    if row is None and not any(getattr(foot, name) is not None for name in SIGN_COLUMNS):
        return
    row = row or FootObservation(fitting=fitting, foot=side)
    for name in SIGN_COLUMNS:
        setattr(row, name, getattr(foot, name))
    row.cutoffs_id = cutoffs_pk if is_measured(foot) else None
    check_record(row)
    row.save()


def _measured(kind: str, readings: tuple[float, float]) -> MeasuredTwice:
    try:
        return mean_of_readings(kind, readings)
    except (TypeError, ValueError) as problem:
        raise field_error("first", str(problem)) from problem


def _stored(measured: MeasuredTwice) -> dict[str, float]:
    return {"mean": measured.mean, "apart": measured.apart}


def _check_may(fitting: Fitting, why: _Why, seen_by: int) -> None:
    """Refuse whoever took the second look: the two would no longer be what two people saw."""
    if seen_by != why.by.pk and SecondObservation.objects.filter(fitting=fitting, fitter=why.by).exists():
        message = "You took the second look at this fitting. Somebody else corrects the first, so that they stay two."
        raise DomainError(message, code="second_look", status=409)


def _nothing_changed(name: str) -> DomainError:
    message = "This is what was recorded: there is nothing to correct."
    return DomainError(message, code="nothing_changed", fields={name: [message]})


def _content(look: Look, shoe_name: str) -> Content:
    condition = look.condition
    feet = {side: {name: getattr(foot, name) for name in SIGN_COLUMNS} for side, foot in look.feet()}
    return {"gait": condition.gait, "worn": condition.worn, "shoe": condition.shoe, "shoe_name": shoe_name, **feet}


def _set_aside(
    fitting: Fitting, number: int, content: Content, taken: tuple[dt.datetime, User], why: _Why
) -> SupersededLook:
    was = SupersededLook(
        fitting=fitting,
        number=number,
        content=content,
        taken_at=taken[0],
        taken_by=taken[1],
        superseded_at=timezone.now(),
        superseded_by=why.by,
        reason=why.reason,
    )
    check_record(was)
    was.save()
    return was


def _write_trail(actor: User, fitting: Fitting, was: SupersededLook, before: Any) -> None:
    changes = [
        Change("fittings.look.superseded", was, store=fitting.store),
        Change("fittings.fitting.looks_corrected", fitting, before, store=fitting.store),
    ]
    audit.record_many(changes, actor=actor)
