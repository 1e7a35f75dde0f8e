"""A training store: chosen by head office, named so on every page, and in no figure."""

from __future__ import annotations

import ast
import datetime as dt
from decimal import Decimal
from pathlib import Path

import pytest
from django.core import mail
from django.utils import timezone

from catalogue.models import FaultReport, MovementKind, StockItem
from catalogue.selectors import store_list
from catalogue.selectors.public.stores import store_names
from catalogue.services import Pairs, stock_move, wish_ask
from core.accounts.first_steps import staff_is_complete
from core.accounts.provisioning import membership_grant, store_create
from core.domain.errors import DomainError
from core.gate.access import Role
from core.models import Membership, Store, User
from fittings.domain.fitting.intake import FollowUpAnswer, FootIntake
from fittings.models import Choice, NeedRules, SecondObservation
from fittings.selectors.first_steps import fitting_exists
from fittings.selectors.fitting.rules_trial import rules_trial
from fittings.selectors.outcomes import agreement, demand
from fittings.selectors.outcomes.courses import GROUPINGS, OutcomeFilter, counts_of, course_rows, model_rows
from fittings.selectors.outcomes.measured_agreement import measured_agreements
from fittings.selectors.outcomes.noisy_counts import released_counts
from fittings.selectors.outcomes.outcomes import outcomes_for
from fittings.selectors.outcomes.shoes_in_use import shoes_in_use
from fittings.selectors.outcomes.statistics import statistics_table
from fittings.selectors.people.notices import count_fittings
from fittings.selectors.people.personal_data import cells_of
from fittings.services import choice_correct, choice_record, follow_up_answer
from fittings.services.people.people import customer_move
from fittings.services.people.reminders import follow_up_reminders_send
from tests.shared import shared
from tests.stock import stock_set

SELECTORS = Path(agreement.__file__).parents[1]
PEOPLE = 6
KEPT = ("kept", "fitting__kept")
READS = {"kept", "with_consent"}


@shared
def training(cast):
    store = store_create(actor=cast.office, slug="training", name="Schooling", is_training=True)
    membership_grant(actor=cast.office, user=cast.fitter_a, role=Role.FITTER, store=store)
    return store


def fitter_of(cast):
    """The fitter with the stores that they have now: memberships are read once for each object."""
    return User.objects.get(pk=cast.fitter_a.pk)


def people_of(training, cast, make_fitting, make_shoe):
    """Record what every figure counts: fittings over a year old, choices, answers, second looks and angles."""
    make_shoe("learned-in", 65.0)
    at = timezone.now() - dt.timedelta(days=420)
    for number in range(PEOPLE):
        foot = FootIntake(pronation=2, tibial_rotation=1, rearfoot_eversion=0, length_mm=262.0)
        fitting = make_fitting(
            name=f"Invented {number}", email=f"i{number}@example.org", store=training, actor=fitter_of(cast), at=at,
            left=foot, right=foot,
        )  # fmt: skip
        choice_record(actor=fitter_of(cast), fitting=fitting, slug="learned-in", size="EU 42.5", comfort=8, at=at)
        for follow_up in fitting.follow_ups.order_by("weeks"):
            when = at + dt.timedelta(weeks=follow_up.weeks)
            answer = FollowUpAnswer(wearing=True, comfort=7, nothing_hurts=True, distance_km_week=20.0)
            follow_up_answer(actor=None, follow_up=follow_up, answer=answer, at=when)
        SecondObservation.objects.create(
            fitting=fitting, foot="left", gait="walking", worn="barefoot", pronation=1, length_mm=260.0,
            fitter=cast.manager_a, at=at,
        )  # fmt: skip
        make_fitting(name=f"Lately {number}", email="", store=training, actor=fitter_of(cast))


def figures(cast):
    """Every figure over stores, the training store among those asked for, as text."""
    stores = list(Store.objects.order_by("pk"))
    everybody = OutcomeFilter(tuple(store.pk for store in stores))
    today = timezone.localdate()
    choices = Choice.objects.order_by("pk")
    table = statistics_table(cast.office, on=today)
    found = {
        "people": [counts_of(everybody, by, on=today) for by in GROUPINGS],
        "released": released_counts(everybody, "target", on=today),
        "office": outcomes_for(cast.office),
        "rows": list(course_rows(everybody, on=today)),
        "model": model_rows(everybody, on=today),
        "in use": shoes_in_use(on=today),
        "agreement": agreement.all_agreements(everybody),
        "measured": measured_agreements(everybody),
        "demand": demand.demand_over(stores, dt.date(2020, 1, 1)),
        "across": demand.demand_across(stores, today + dt.timedelta(days=1)),
        "gaps": demand.demand_for_store(cast.store_a, today + dt.timedelta(days=40)),
        "rules": rules_trial(cast.office, NeedRules.objects.get(is_current=True)).trial,
        "statistics": table.people + table.suppressed,
        "reach": count_fittings(list(choices.values_list("score_card", flat=True))),
        "cells": [cells_of(choice.fitting.customer) for choice in choices],
    }
    return {name: repr(value).replace("[], ", "") for name, value in found.items()}


def test_no_figure_counts_the_people_of_a_training_store(training, cast, make_fitting, make_shoe, without_noise):
    before = figures(cast)
    people_of(training, cast, make_fitting, make_shoe)
    taught = figures(cast)
    assert taught | {"cells": ""} == before | {"cells": ""}
    assert "True" not in taught["cells"]
    Store.objects.filter(pk=training.pk).update(is_training=False)
    real = figures(cast)
    # So few people are hidden over all stores, whoever they are.
    assert {name for name in taught if taught[name] == real[name]} <= {"released", "office", "in use"}


def test_selectors_that_count_ask_for_those_who_count():
    """Whoever reads kept fittings in a selector says here why it is no figure over stores."""
    lists = {
        "agreement.py": 1,  # open_for_second_look: the reader's own list
        "hub.py": 2,  # one customer's page
        "needs.py": 1,  # one fitting
        "notices.py": 1,  # the reader's own list
    }
    uses = {}
    for path in sorted(SELECTORS.rglob("*.py")):
        tree = ast.parse(path.read_text())
        names = [node for node in ast.walk(tree) if isinstance(node, ast.Attribute) and node.attr in READS]
        words = [node for node in ast.walk(tree) if isinstance(node, ast.keyword) and node.arg in KEPT]
        if names or words:
            uses[path.name] = len(names) + len(words)
    assert uses == lists


def test_visitors_see_no_training_store_and_it_holds_no_stock(training, cast, make_shoe, client):
    shoe = make_shoe("learned-in", 65.0)
    assert training.name == "Schooling (training)"
    assert training.slug not in {row.slug for row in store_list()} | set(store_names())
    assert client.get("/stores/training/").headers["Location"] == "/stores/"
    with pytest.raises(DomainError, match="holds no stock"):
        stock_set(actor=cast.office, store=training, shoe=shoe, size_eu=Decimal(42), quantity=1)
    with pytest.raises(DomainError, match="holds no stock"):
        stock_move(actor=cast.office, store=training, kind=MovementKind.RECEIVED, pairs=[Pairs(shoe, Decimal(42), 1)])
    with pytest.raises(DomainError, match="asks for no shoes"):
        wish_ask(actor=cast.fitter_a, store=training, brand="Oddlemere", name="Plum")
    assert not StockItem.objects.exists()


def test_nothing_leaves_a_training_store(training, cast, make_fitting, make_shoe):
    people_of(training, cast, make_fitting, make_shoe)
    choice = Choice.objects.order_by("pk").first()
    choice_correct(actor=fitter_of(cast), choice=choice, kind="fault", reason="torn eyelet")
    assert not FaultReport.objects.exists()
    assert not StockItem.objects.exists()
    follow_up_reminders_send(on=timezone.localdate())
    assert mail.outbox == []
    with pytest.raises(DomainError, match="Invented people stay"):
        customer_move(actor=fitter_of(cast), customer=choice.fitting.customer, store=cast.store_a)


def test_office_chooses_it_when_the_store_is_made_and_every_page_says_so(sign_in, cast, training):
    office = sign_in(cast.office)
    sent = {"name": "Back Room", "slug": "back-room", "is_training": "on"}
    assert office.post("/office/stores/new/", sent).status_code == 302
    made = Store.objects.get(slug="back-room")
    assert (made.is_training, made.name) == (True, "Back Room (training)")
    office.post("/office/stores/back-room/edit/", {"name": "Front Room"})
    made.refresh_from_db()
    assert (made.is_training, made.name) == (True, "Front Room (training)")
    fitter = sign_in(cast.fitter_a)
    for address in ("/fittings/", "/fittings/customers/", "/fittings/follow-ups/"):
        assert "Its people are invented" in fitter.get(address).content.decode(), address
    assert "Its people are invented" not in sign_in(cast.fitter_b).get("/fittings/").content.decode()


def test_first_steps_of_a_practice_leave_a_training_store_out(training, cast, make_fitting):
    make_fitting(store=training, actor=fitter_of(cast))
    Membership.objects.filter(role=Role.FITTER, store__is_training=False).delete()
    assert not Store.objects.filter(fitting_exists()).exists()
    assert not Store.objects.filter(staff_is_complete()).exists()
    membership_grant(actor=None, user=cast.fitter_a, role=Role.FITTER, store=cast.store_a)
    make_fitting(actor=fitter_of(cast))
    assert Store.objects.filter(fitting_exists()).exists()
    assert Store.objects.filter(staff_is_complete()).exists()
