"""Lists of fittings and follow-ups, and the one that a person may see."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from catalogue.models import Shoe
from fittings.domain.refusals import not_here
from fittings.models import Choice, Fitting, FollowUp, LookFoot, PictureAngle, SecondObservation, SupersededLook

SUGGESTED_MAX = 300
_BESIDE_FOLLOW_UP = ("fitting__store", "fitting__customer", "fitting__choice__shoe__brand", "choice__shoe__brand")


def fitting_get(user: Any, pk: int) -> Fitting:
    """One fitting of the user's stores, with what its page shows; a 404 for any other."""
    fitting = (
        Fitting.objects.visible_to(user)
        .select_related("store", "fitter", "customer", "rules", "referral_rules")
        .select_related("current_shoe__brand", "choice__shoe__brand", "choice__correction")
        .annotate(**{name: Exists(rows) for name, rows in _SELDOM.items()})
        .filter(pk=pk)
        .first()
    )
    if fitting is None:
        raise not_here("fitting")
    return fitting


_SELDOM = {
    "has_looks": LookFoot.objects.filter(fitting=OuterRef("pk")),
    "has_angles": PictureAngle.objects.filter(fitting=OuterRef("pk")),
    "has_corrected_looks": SupersededLook.objects.filter(fitting=OuterRef("pk")),
    "looked_twice": SecondObservation.objects.filter(fitting=OuterRef("pk")),
}
"""What few fittings have: whether there is any comes with the fitting, so that a page asks no further for nothing."""


def follow_up_get(user: Any, pk: int) -> FollowUp:
    """One follow-up of the user's stores; a 404 for any other."""
    follow_up = FollowUp.objects.visible_to(user).select_related(*_BESIDE_FOLLOW_UP).filter(pk=pk).first()
    if follow_up is None:
        raise not_here("follow-up")
    return follow_up


def choice_get(user: Any, fitting: int, pk: int) -> Choice:
    """One choice of a fitting of the user's stores; a 404 for any other."""
    choice = (
        Choice.objects.visible_to(user)
        .select_related("fitting__store", "fitting__customer", "shoe__brand", "correction")
        .filter(fitting=fitting, pk=pk)
        .first()
    )
    if choice is None:
        raise not_here("choice")
    return choice


def worn_choice(fitting: Fitting) -> Choice | None:
    """The choice of a fitting's first pair; None where none was made, or it was returned without a new shoe."""
    choice = fitting.choice
    return None if choice is None or hasattr(choice, "correction") else choice


def choices_of(fitting: Fitting) -> list[Choice]:
    """The choices of a fitting by pair, each pair's newest first: one query."""
    choices = fitting.choices.select_related("shoe__brand", "correction__by")
    return list(choices.order_by("pair", "-pk"))


def asked_about(choice: Choice) -> list[FollowUp]:
    """The follow-ups of a choice's pair, in their order."""
    return list(choice.fitting.follow_ups.select_related("fitting__store").filter(pair=choice.pair))


def fittings_of(user: Any) -> QuerySet[Fitting]:
    """The fittings of the user's stores, newest first, with what a list shows."""
    return Fitting.objects.visible_to(user).select_related(
        "store", "fitter", "customer", "rules", "choice__shoe__brand"
    )


def fittings_on(user: Any, day: dt.date) -> QuerySet[Fitting]:
    """The fittings of a day."""
    start = timezone.make_aware(dt.datetime.combine(day, dt.time.min))
    return fittings_of(user).filter(at__gte=start, at__lt=start + dt.timedelta(days=1))


def follow_ups_of(user: Any, *, due_on: dt.date | None = None) -> QuerySet[FollowUp]:
    """The follow-ups of the user's stores; with `due_on` those due by then and open, the oldest first."""
    follow_ups = FollowUp.objects.visible_to(user)
    if due_on is not None:
        follow_ups = follow_ups.due(due_on).order_by("due_on", "pk")
    return follow_ups.select_related(*_BESIDE_FOLLOW_UP)


def follow_up_due(fitting: Fitting, on: dt.date) -> FollowUp | None:
    """The follow-up of a fitting to be answered by a day."""
    return fitting.follow_ups.due(on).first()


def names_to_pick() -> list[str]:
    """Names of published shoes that a field suggests before anything is typed."""
    names = Shoe.objects.published().order_by("brand__name", "name", "version")
    return [
        " ".join(filter(None, name)) for name in names.values_list("brand__name", "name", "version")[:SUGGESTED_MAX]
    ]
