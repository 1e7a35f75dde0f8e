"""The database itself shows a store only its own people, whatever a query forgets."""

from __future__ import annotations

import re
import uuid
from dataclasses import replace

import pytest
from django.apps import apps
from django.db import ProgrammingError, connection, transaction
from django.http import HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from core.gate import row_scope
from core.gate.access import PUBLIC, allowed, declared_action
from core.gate.checks import methods_of, url_patterns
from core.gate.middleware import RequestContextMiddleware
from fittings.models import Customer, Draft, Fitting, FollowUp
from fittings.models.row_rules import NOT_PROTECTED
from tests.core.gate.test_permissions_walk import ROLES, is_api
from tests.shared import shared

NAME, EMAIL = "Quillon Distinctive", "quillon.distinctive@example.org"


@shared
def person_of_a(chosen, cast):
    """A customer of store A with a fitting, a choice and an answered follow-up."""
    from fittings.domain.fitting.angles import Marks, Point
    from fittings.domain.fitting.intake import Condition, CustomerIntake, FollowUpAnswer, FootIntake, FootMarks, Look
    from fittings.domain.people.recurrence import Pain
    from fittings.selectors.fitting.looks import looks_at
    from fittings.services import (
        ReplyGiven,
        choice_correct,
        contact_record,
        follow_up_amend,
        follow_up_answer,
        letter_write,
        not_reached_note,
        person_save,
        reply_record,
        try_on_record,
    )
    from fittings.services.fitting.draft import Stamp, Whom
    from fittings.services.fitting.look_corrections import look_correct
    from fittings.services.fitting.looks import looks_record
    from fittings.services.fitting.second_look import second_observation_record

    heel, rolled = (Point(0, 0), Point(0, 100), Point(0, 110), Point(0, 200)), FootIntake(pronation=1)
    fitting = chosen(name=NAME, email=EMAIL, marks=(FootMarks("left", Marks("rearfoot_eversion", (heel, heel))),))
    barefoot, shod = Condition("running", "barefoot"), Condition("running", "candidate", "in-target")
    measured = Look(barefoot, FootIntake(rearfoot_eversion_deg=4.0), rolled, apart=(0.5, None))
    looks_record(actor=cast.fitter_a, fitting=fitting, looks=[measured, Look(shod, rolled)])
    straight = FootIntake(pronation=0)
    number, less = looks_at(fitting).taken[shod].number, Look(shod, straight, straight)
    look_correct(actor=cast.fitter_a, fitting=fitting, number=number, look=less, reason=f"{NAME} stood still")
    seen = FootIntake(pronation=1)
    second_observation_record(actor=cast.manager_a, fitting=fitting, left=seen, right=seen)
    try_on_record(actor=cast.fitter_a, fitting=fitting, slug="in-target", size="EU 43", comfort=6)
    follow_up = fitting.follow_ups.order_by("due_on").first()
    answer = FollowUpAnswer(wearing=True, comfort=7, pain=(Pain("heel", "left", 3),))
    follow_up_answer(actor=cast.fitter_a, follow_up=follow_up, answer=answer, at=timezone.now())
    letter_write(actor=cast.fitter_a, fitting=fitting, addressee="Dr. Quillon", remark="Quillon limps")
    given = ReplyGiven("Dr. Quillon", timezone.localdate(), ["insole"], "an insole for Quillon")
    reply_record(actor=cast.fitter_a, fitting=fitting, given=given)
    # Names in free text: none of it may enter the trail.
    amended = replace(answer, comment=f"{NAME} is content")
    follow_up_amend(actor=cast.fitter_a, follow_up=follow_up, answer=amended, reason=f"{NAME} called again")
    choice_correct(
        actor=cast.fitter_a,
        choice=fitting.choice,
        kind="exchange",
        slug="in-target",
        size="EU 43",
        reason=f"{NAME} wants it longer",
    )
    contact_record(actor=cast.fitter_a, fitting=fitting, answer=FollowUpAnswer(comment=f"{NAME} called"))
    not_reached_note(actor=cast.fitter_a, follow_up=fitting.follow_ups.order_by("due_on").last())
    whom = Whom(CustomerIntake(consent=True), fitting.customer_id)
    person_save(actor=cast.fitter_a, store=cast.store_a, key=uuid.uuid4(), whom=whom, stamp=Stamp())
    _reserve(fitting, cast)
    _ask(cast)
    _inform(fitting, cast)
    return fitting


def _inform(fitting, cast):
    """Have the customer ticked off as informed of scores that were taken back."""
    from catalogue.models import ScoreCard
    from catalogue.services import incident_notice_send
    from fittings.services import notice_tick

    card = ScoreCard.objects.get()
    notice = incident_notice_send(actor=cast.reviewer, score_cards=[card.pk], reason="drifted", at=timezone.now())
    notice_tick(actor=cast.fitter_a, notice=notice, choice=fitting.choice.pk, is_informed=True)


def _ask(cast):
    """Have somebody of the same name ask for another fitting."""
    from fittings.services.people.requests import RequestedFitting, fitting_request_make

    asked = RequestedFitting(NAME, EMAIL, timezone.localdate(), consent=True)
    fitting_request_make(store=cast.store_a, asked=asked, address="192.0.2.1")


def _reserve(fitting, cast):
    """Have a pair put aside for the customer of a fitting."""
    from catalogue.models import MovementKind
    from catalogue.services import Pairs, reservation_make, stock_move

    pairs = Pairs(fitting.choice.shoe, fitting.choice.size_eu, 1)
    stock_move(actor=cast.fitter_a, store=cast.store_a, kind=MovementKind.RECEIVED, pairs=[pairs])
    reservation_make(
        actor=cast.fitter_a,
        store=cast.store_a,
        shoe=pairs.shoe,
        size_eu=pairs.size_eu,
        quantity=1,
        note=NAME.split()[0],
        until=timezone.localdate(),
    )


def kinds():
    return [pytest.param(item, id=item.model._meta.label_lower) for item in row_scope.protected()]


def test_every_table_of_fittings_is_protected_or_says_why_not():
    protected = {item.model._meta.label_lower for item in row_scope.protected()}
    tables = {model._meta.label_lower for model in apps.get_app_config("fittings").get_models()}
    # A table of the catalogue whose notes may name a customer.
    assert protected | NOT_PROTECTED.keys() == tables | {"catalogue.reservation"}
    assert not protected & NOT_PROTECTED.keys()


@pytest.mark.parametrize("item", kinds())
def test_security_is_on_and_the_role_cannot_pass_it_by(item, db):
    with connection.cursor() as cursor:
        cursor.execute("SELECT relrowsecurity FROM pg_class WHERE oid = %s::regclass", [item.model._meta.db_table])
        assert cursor.fetchone() == (True,)
        cursor.execute("SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user")
        assert cursor.fetchone() == (False,)


@pytest.mark.parametrize("item", kinds())
def test_another_store_sees_changes_and_deletes_nothing(item, person_of_a, cast):
    table = connection.ops.quote_name(item.model._meta.db_table)
    key = connection.ops.quote_name(item.model._meta.pk.column)
    there = item.model._base_manager.count()
    assert there, "let person_of_a fill this table too"
    for scope in (row_scope.stores([cast.store_b.pk]), row_scope.stores([])):
        with scope, connection.cursor() as cursor:
            assert not item.model._base_manager.exists()
            cursor.execute(f"SELECT count(*) FROM {table}")
            assert cursor.fetchone() == (0,)
            cursor.execute(f"UPDATE {table} SET {key} = {key}")
            assert cursor.rowcount == 0
            cursor.execute(f"DELETE FROM {table}")
            assert cursor.rowcount == 0
    assert item.model._base_manager.count() == there
    with row_scope.stores([cast.store_a.pk]):
        assert item.model._base_manager.count() == there


def test_a_row_cannot_be_put_into_another_store(person_of_a, cast):
    with row_scope.stores([cast.store_b.pk]):
        with pytest.raises(ProgrammingError, match="row-level security"), transaction.atomic():
            Customer.objects.create(store=cast.store_a, name="Nobody", created_at=timezone.now())
        with pytest.raises(ProgrammingError, match="row-level security"), transaction.atomic():
            Fitting.objects.create(store=cast.store_a, fitter=cast.fitter_b, at=timezone.now(), kept=False)


def test_figures_of_all_stores_come_without_names(person_of_a):
    with row_scope.figures():
        assert Fitting.objects.exists()
        assert FollowUp.objects.exists()
        assert not Customer.objects.exists()
        assert not Fitting.objects.filter(customer__name__gt="").exists()


@pytest.mark.parametrize("item", kinds())
def test_figures_are_for_reading_alone(item, person_of_a):
    table = connection.ops.quote_name(item.model._meta.db_table)
    key = connection.ops.quote_name(item.model._meta.pk.column)
    row = item.model._base_manager.first()
    with row_scope.figures(), connection.cursor() as cursor:
        cursor.execute(f"UPDATE {table} SET {key} = {key}")
        assert cursor.rowcount == 0
        cursor.execute(f"DELETE FROM {table}")
        assert cursor.rowcount == 0
        with pytest.raises(ProgrammingError, match="row-level security"), transaction.atomic():
            row.save(force_insert=True)


def test_request_does_not_believe_what_a_connection_has_in_scope(person_of_a, client, cast):
    """Something set it behind our back: a pooler that hands on a session, or code that runs SQL of its own."""
    seen = []

    def customers(request):
        seen.append(Customer.objects.count())
        return HttpResponse()

    with row_scope.within(row_scope.NOTHING):
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT set_config('{row_scope.REACH}', 'everything', false)")
        assert Customer.objects.exists()
        RequestContextMiddleware(customers)(RequestFactory().get("/"))
    assert seen == [0]


def test_scope_survives_a_new_connection_and_a_lost_transaction(person_of_a, cast):
    with row_scope.stores([cast.store_b.pk]):
        try:
            with transaction.atomic(), row_scope.everything():
                assert Customer.objects.exists()
                raise LookupError
        except LookupError:
            pass
        assert not Customer.objects.exists()
    assert Customer.objects.exists()


def test_nothing_of_a_request_stays_in_scope(person_of_a, client, cast):
    with row_scope.within(row_scope.NOTHING):
        client.force_login(cast.fitter_a)
        assert NAME in client.get("/fittings/").content.decode()
        assert row_scope._scope.get() == row_scope.NOTHING
        assert not Customer.objects.exists()


def test_forgotten_filter_shows_nothing_of_another_store(person_of_a, client, cast, monkeypatch):
    """With every `visible_to` letting everything through, the database still holds the line."""
    from fittings.models.fitting.draft import DraftQuerySet
    from fittings.models.fitting.fitting import FittingQuerySet
    from fittings.models.people.follow_up import FollowUpQuerySet
    from fittings.models.people.people import CustomerQuerySet

    for words in (DraftQuerySet, FittingQuerySet, FollowUpQuerySet, CustomerQuerySet):
        monkeypatch.setattr(words, "visible_to", lambda rows, _user: rows.all())
    client.force_login(cast.fitter_b)
    assert client.get(f"/fittings/{person_of_a.pk}/").status_code == 404
    assert client.get(f"/fittings/customers/{person_of_a.customer_id}/").status_code == 404
    assert NAME not in client.get("/fittings/").content.decode()
    assert NAME not in client.post("/fittings/customers/", {"words": "quillon"}).content.decode().replace("quillon", "")


def is_open_to(person, action):
    return action == PUBLIC or (person is not None and allowed(person, action))


@pytest.mark.parametrize("role", [role for role in ROLES if role not in ("fitter_a", "manager_a")])
def test_no_address_tells_another_store_who_it_is(role, person_of_a, cast, api_for):
    """Every page and API address, asked by everybody else for the very numbers of store A's person."""
    person = None if role == "anonymous" else cast.members()[role]
    session = Client()
    if person:
        session.force_login(person)
    answered = person_of_a.follow_ups.answered().order_by("due_on").first()
    numbers = {person_of_a.pk, person_of_a.customer_id, answered.pk}
    draft = Draft.objects.get().pk
    token_client = api_for(person) if person else session
    for name, pattern in url_patterns():
        if "GET" not in methods_of(pattern.callback):
            continue
        client = token_client if is_api(pattern) else session
        parts = re.findall(r"<(?:(\w+):)?(\w+)>", str(pattern.pattern))
        # The gate refuses before any number is looked at: one shows it.
        asked = numbers if is_open_to(person, declared_action(pattern.callback, "GET")) else {person_of_a.pk}
        for number in asked if any(kind == "int" for kind, _ in parts) else {0}:
            given = {"int": number, "uuid": draft}
            values = {part: given.get(kind, "store-a") for kind, part in parts}
            content = client.get(reverse(name, kwargs=values)).getvalue().decode(errors="replace")
            assert NAME not in content, name
            assert EMAIL not in content, name
