"""Lists of fittings and follow-ups, and the one that a person may see."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.db.models import Exists, OuterRef, QuerySet
from django.utils import timezone

from catalogue.models import Shoe
from core.domain.errors import DomainError
from fittings.models import Fitting, FollowUp, LookFoot, PictureAngle, SecondObservation

SUGGESTED_MAX = 1000


def _not_found(what: str) -> DomainError:
    return DomainError(f"There is no such {what}, or it is not of your store.", code="not_found", status=404)


def fitting_get(user: Any, pk: int) -> Fitting:
    """One fitting of the user's stores, with what its page shows; a 404 for any other."""
    fitting = (
        Fitting.objects.visible_to(user)
        .select_related("store", "fitter", "customer", "rules", "current_shoe__brand", "choice__shoe__brand")
        .annotate(**{name: Exists(rows) for name, rows in _SELDOM.items()})
        .filter(pk=pk)
        .first()
    )
    if fitting is None:
        raise _not_found("fitting")
    return fitting


_SELDOM = {
    "has_looks": LookFoot.objects.filter(fitting=OuterRef("pk")),
    "has_angles": PictureAngle.objects.filter(fitting=OuterRef("pk")),
    "looked_twice": SecondObservation.objects.filter(fitting=OuterRef("pk")),
}
"""What few fittings have: whether there is any comes with the fitting, so that a page asks no further for nothing."""


def follow_up_get(user: Any, pk: int) -> FollowUp:
    """One follow-up of the user's stores; a 404 for any other."""
    follow_up = (
        FollowUp.objects.visible_to(user)
        .select_related("fitting__store", "fitting__customer", "fitting__choice__shoe__brand")
        .filter(pk=pk)
        .first()
    )
    if follow_up is None:
        raise _not_found("follow-up")
    return follow_up


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
    """The follow-ups of the user's stores; with `due_on` those due by then and open, the newest first."""
    follow_ups = FollowUp.objects.visible_to(user)
    if due_on is not None:
        follow_ups = follow_ups.due(due_on).order_by("-due_on", "pk")
    return follow_ups.select_related("fitting__store", "fitting__customer", "fitting__choice__shoe__brand")


def follow_up_due(fitting: Fitting, on: dt.date) -> FollowUp | None:
    """The follow-up of a fitting to be answered by a day."""
    return fitting.follow_ups.due(on).first()


def shoes_to_pick(*, published: bool) -> list[tuple[str, str]]:
    """Slug and title of the shoes that a field suggests."""
    shoes = Shoe.objects.published() if published else Shoe.objects.all()
    names = shoes.order_by("slug").values_list("slug", "brand__name", "name", "version")[:SUGGESTED_MAX]
    return [(slug, f"{brand} {name} {version}".rstrip()) for slug, brand, name, version in names]
