"""Rows for a statistician: a person and visit, without anything that others could know somebody by."""

from __future__ import annotations

import datetime as dt
import secrets
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, QuerySet
from django.utils import timezone

from core.models import User
from fittings.domain.disclosure.anonymity import Known, banded, k_anonymous
from fittings.models import Choice, Fitting, FollowUp, StatisticsExport
from fittings.selectors.outcomes.outcomes import scope_of
from fittings.selectors.outcomes.released_people import released_until

MASS_BAND_KG, DISTANCE_BAND_KM, DISTANCE_STEP_KM = 10, 20, 5
COMPLAINTS_MOST = 2

GIVEN_UP: tuple[str, ...] = (
    "store",
    "distance_at_fitting_km_week",
    "complaints_at_fitting",
    "body_mass_kg",
    "band_chosen",
    "in_target",
    "use",
)
"""What others could know of a person, in the order in which it is left out where too few people share it."""


@dataclass(frozen=True, slots=True)
class StatisticsTable:
    """Visits, a dictionary of columns each; how many people are in it, and how many were left out."""

    rows: tuple[Mapping[str, Any], ...]
    until: dt.date
    people: int
    suppressed: int
    blanked: Mapping[str, int]


def statistics_table(user: User, *, on: dt.date) -> StatisticsTable:
    """Every visit of the people of all stores whose follow-ups are over: two queries.

    A person is a random number, another one in each export. People who withdrew their consent are in no table any more.
    """
    until = released_until(on)
    scope = scope_of(user)
    with scope.opened():
        choices = list(_choices([store.pk for store in scope.stores], until))
        visits = _visits([choice.fitting_id for choice in choices])
    # Of somebody who was fitted several times the first fitting counts: rows of one person hang together.
    first: dict[int | None, Choice] = {}
    for choice in choices:
        first.setdefault(choice.fitting.customer_id, choice)
    people = list(first.values())
    secrets.SystemRandom().shuffle(people)
    safe = k_anonymous([_known(choice) for choice in people], GIVEN_UP)
    rows = [
        {"person": number, **known, **_visit(visit, choice)}
        for number, (choice, known) in enumerate(zip(people, safe.rows, strict=True), start=1)
        if known is not None
        for visit in visits[choice.fitting_id]
        if visit.choice_id in (None, choice.pk)
    ]
    return StatisticsTable(tuple(rows), until, len(people) - safe.suppressed, safe.suppressed, safe.blanked)


def statistics_exports() -> QuerySet[StatisticsExport]:
    return StatisticsExport.objects.select_related("made_by")


def _choices(stores: Sequence[int], until: dt.date) -> QuerySet[Choice]:
    counted = Fitting.objects.without_training().filter(store__in=stores)
    kept = Choice.objects.without_mistakes().filter(fitting__in=counted, at__date__lt=until, pair=1)
    beside = ("fitting__store", "score_card__band")
    return kept.select_related(*beside).annotate(complaints=Count("fitting__history")).order_by("at", "pk")


def _visits(fittings: Sequence[int]) -> dict[int, list[FollowUp]]:
    visits: dict[int, list[FollowUp]] = defaultdict(list)
    for visit in FollowUp.objects.scheduled().filter(fitting__in=fittings, pair=1).order_by("weeks"):
        visits[visit.fitting_id].append(visit)
    return visits


def _known(choice: Choice) -> Known:
    fitting, complaints = choice.fitting, choice.complaints  # type: ignore[attr-defined]  # annotated
    return {
        "store": fitting.store.slug,
        "use": fitting.use,
        "body_mass_kg": banded(fitting.body_mass_kg, MASS_BAND_KG),
        "distance_at_fitting_km_week": banded(fitting.distance_km_week, DISTANCE_BAND_KM),
        "complaints_at_fitting": f"{COMPLAINTS_MOST} or more" if complaints >= COMPLAINTS_MOST else str(complaints),
        "band_chosen": str(choice.score_card.band.order),
        "in_target": "yes" if choice.in_target else "no",
    }


def _visit(visit: FollowUp, choice: Choice) -> dict[str, Any]:
    answered = visit.answered_at is not None
    days = (timezone.localdate(visit.answered_at) - timezone.localdate(choice.at)).days if answered else None
    km = visit.distance_km_week
    return {
        "visit_weeks": visit.weeks,
        "answered": answered,
        "answered_after_weeks": None if days is None else round(days / 7),
        "wearing": visit.wearing,
        "distance_km_week": None if km is None else DISTANCE_STEP_KM * round(km / DISTANCE_STEP_KM),
        "comfort": visit.comfort,
        "overuse_total": visit.overuse_total,
        "days_off": visit.days_off,
        "nothing_hurts": visit.nothing_hurts,
        "free_of_complaints": visit.free_of_complaints,
        "recurrence": visit.recurrence if answered else None,
    }
