"""What an incident touches: the tests, and everything that rests on them. Writes nothing."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Q, QuerySet
from django.http import Http404

from catalogue.models import Shoe
from catalogue.selectors.stock import cards_in_use
from core.gate.access import registered
from core.models import Store, User
from labtests.models import (
    INCIDENT,
    BenchTest,
    CalibratedQuantity,
    Incident,
    IncidentEffect,
    IncidentState,
    Rig,
    State,
)
from labtests.selectors.scores.rescoring import ShoeChange
from labtests.selectors.scores.taking_back import cards_resting_on, changes_without

LISTED_MOST = 500
# What each calibrated quantity is part of; those of the conditions are part of every test.
READING_OF = {
    CalibratedQuantity.TORQUE: Q(torque_15_nm__isnull=False),
    CalibratedQuantity.ANGLE: Q(torque_15_nm__isnull=False),
    CalibratedQuantity.DISPLACEMENT: Q(deflection_mm__isnull=False),
}


@dataclass(frozen=True, slots=True)
class Period:
    """A quantity of a rig that is not to be trusted, from one time to another, both included."""

    rig: Rig
    quantity: str
    begins_at: dt.datetime
    ends_at: dt.datetime
    effect: str = IncidentEffect.DOUBT


@dataclass(frozen=True, slots=True)
class Touched:
    """What taking back the tests of a period touches.

    `shoes` are the published shoes whose card changes or is withdrawn; `score_cards` all cards that rest on the tests,
    earlier ones too, which wall cards and fittings may show.
    """

    tests: tuple[BenchTest, ...]
    shoes: tuple[ShoeChange, ...]
    score_cards: tuple[int, ...]
    wall_cards: tuple[cards_in_use.HangingCard, ...]
    stores: tuple[Store, ...]
    fittings: cards_in_use.FittingCount

    @property
    def withdrawn(self) -> tuple[ShoeChange, ...]:
        return tuple(shoe for shoe in self.shoes if shoe.then is None)


def tests_touched(period: Period) -> QuerySet[BenchTest]:
    """The tests of a period that its effect would change, in the order in which they were made."""
    tests = BenchTest.objects.filter(
        READING_OF.get(CalibratedQuantity(period.quantity), Q()),
        rig=period.rig,
        performed_at__range=(period.begins_at, period.ends_at),
    ).exclude(state=State.VOID)
    if period.effect == IncidentEffect.DOUBT:
        tests = tests.exclude(state=State.HELD, reasons__contains=[{"code": INCIDENT}])
    return tests.order_by("performed_at", "pk")


def touched_by(period: Period) -> Touched:
    """Work out what a period touches, in a number of queries that does not depend on how much that is."""
    return touched_with(tests_read(period))


def tests_read(period: Period) -> tuple[BenchTest, ...]:
    """The tests of a period with what is needed of them to decide on them and to list them."""
    tests = tests_touched(period).select_related("specimen__shoe__brand", "upload", "amends")
    return tuple(tests.defer("upload__data", "upload__verdict"))


def touched_with(tests: Collection[BenchTest]) -> Touched:
    """What taking back these tests touches."""
    ids = [test.pk for test in tests]
    cards = dict(cards_resting_on(ids).values_list("pk", "shoe_id"))
    hanging = cards_in_use.hanging_cards(cards)
    fittings = cards_in_use.fittings_with(cards)
    stores = cards_in_use.stores_with(shoes=set(cards.values()), cards=hanging, fittings=fittings)
    return Touched(tuple(tests), changes_without(ids), tuple(cards), tuple(hanging), tuple(stores), fittings)


def touched_body(touched: Touched) -> dict[str, Any]:
    """What is touched as the API says it and the incident's record holds it: counts, with lists of 500 at most."""
    return {
        "tests": _listed([_test_body(test) for test in touched.tests]),
        "shoes": _listed([_shoe_body(shoe) for shoe in touched.shoes]),
        "wall_cards": _listed(
            [
                {"store": card.store, "shoe": card.shoe, "run": card.run, "printed_at": card.printed_at.isoformat()}
                for card in touched.wall_cards
            ]
        ),
        "stores": _listed([{"slug": store.slug, "name": store.name} for store in touched.stores]),
        "fittings": {"count": touched.fittings.fittings, "customers": touched.fittings.customers},
    }


def shoe_names_of(touched: Touched) -> dict[str, str]:
    """Return brand, name and version of the shoes of the tests that are touched, by address."""
    shoes = {test.specimen.shoe for test in touched.tests}
    return {shoe.slug: f"{shoe.brand.name} {shoe.title}" for shoe in shoes}


def shoe_names_in(body: Mapping[str, Any]) -> dict[str, str]:
    """Return the same of an incident that is decided, from its record: one query."""
    addresses = {test["shoe"] for test in body["tests"]["results"]}
    shoes = Shoe.objects.select_related("brand").filter(slug__in=addresses)
    return {shoe.slug: f"{shoe.brand.name} {shoe.title}" for shoe in shoes}


def _listed(rows: list[dict[str, Any]]) -> dict[str, Any]:
    return {"count": len(rows), "results": rows[:LISTED_MOST]}


def _test_body(test: BenchTest) -> dict[str, Any]:
    return {
        "id": test.pk,
        "state": test.state,
        "shoe": test.specimen.shoe.slug,
        "specimen": test.specimen.code,
        "performed": test.performed_at.isoformat(),
    }


def _shoe_body(shoe: ShoeChange) -> dict[str, Any]:
    return {
        "slug": shoe.now.slug,
        "name": shoe.now.title,
        "becomes": "withdrawn" if shoe.then is None else "recomputed",
        "stability": shoe.now.stability,
        "stability_then": None if shoe.then is None else shoe.then.values["stability"],
        "band": shoe.now.band_name,
        "band_then": None if shoe.then is None else shoe.then.band_name,
        "because": list(shoe.refusals),
    }


def incident_list() -> QuerySet[Incident]:
    """Incidents, newest first, with what a line of a list needs."""
    return Incident.objects.select_related("rig", "proposed_by", "decided_by")


def incident_get(pk: int) -> Incident:
    incident = incident_list().filter(pk=pk).first()
    if incident is None:
        raise Http404
    return incident


def same_proposed(period: Period) -> QuerySet[Incident]:
    """Proposals of the same effect on the same time of a rig that nobody has decided on."""
    return incident_list().filter(
        rig=period.rig,
        quantity=period.quantity,
        begins_at=period.begins_at,
        ends_at=period.ends_at,
        effect=period.effect,
        state=IncidentState.PROPOSED,
    )


def who_may_carry_out(incident: Incident, tests: Collection[BenchTest]) -> list[User]:
    """Who may carry an incident out: whose role allows it and who made none of its tests, nor proposed to void them."""
    proposers = {incident.proposed_by_id} if incident.takes_two else set()
    involved = proposers.union(*({test.operator_id, test.upload.by_id} for test in tests))
    roles = registered()["labtests.incident:carry_out"]
    allowed = User.objects.filter(is_active=True, memberships__role__in=roles).distinct()
    return list(allowed.exclude(pk__in=involved).order_by("username"))


def period_of(incident: Incident) -> Period:
    return Period(incident.rig, incident.quantity, incident.begins_at, incident.ends_at, incident.effect)
