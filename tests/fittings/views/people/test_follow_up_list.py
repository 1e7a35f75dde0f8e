"""The list of follow-ups: the longest overdue first, people looked for, earlier ones closed; and removal asks twice."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django import forms
from django.utils import timezone

from fittings.domain.people.answering_time import EFFORT
from fittings.forms.people.follow_up import AnswerForms
from fittings.models import Customer
from fittings.services.people.reminders import email_of
from tests.shared import shared


def text_of(response):
    return re.sub(r"\s+", " ", response.content.decode())


@shared
def due(chosen):
    """Two people, the one fitted later first by name."""
    now = timezone.now()
    for name, weeks in (("Ada Example", 3), ("Bea Sample", 9)):
        chosen(at=now - dt.timedelta(weeks=weeks), name=name, email=f"{name[:3].lower()}@example.org")


@pytest.fixture
def fitter(sign_in, cast):
    return sign_in(cast.fitter_a)


def test_longest_overdue_is_first_and_people_are_looked_for_in_the_body(fitter, due):
    page = text_of(fitter.get("/fittings/follow-ups/"))
    assert page.index("Bea Sample") < page.index("Ada Example")
    found = text_of(fitter.post("/fittings/follow-ups/", {"words": "ada"}))
    assert "Ada Example" in found
    assert "Bea Sample" not in found
    assert "No follow-up is due for anyone who matches." in text_of(
        fitter.post("/fittings/follow-ups/", {"words": "z\x00e"})
    )


def test_earlier_follow_up_is_closed_when_a_later_one_is_due(fitter, due):
    fitting = Customer.objects.get(name="Bea Sample").fittings.get()
    page = text_of(fitter.get(f"/fittings/{fitting.pk}/"))
    assert page.count("closed: a later one is due") == 1
    listed = text_of(fitter.get("/fittings/follow-ups/"))
    assert listed.count("Bea Sample") == 1
    assert "6 weeks" in listed


def test_effort_said_is_that_of_the_questions_asked(due, client):
    fields = [field for form in AnswerForms(history=[]).all() for field in form if not field.is_hidden]
    pains = [field for field in fields if field.form is not fields[0].form]
    # Those about pain count as one, however many places there are.
    assert len(fields) - len(pains) + 1 == 12
    assert all(isinstance(field.field, forms.Field) for field in pains)
    fitting = Customer.objects.get(name="Ada Example").fittings.get()
    assert EFFORT in email_of(fitting.follow_ups.first()).body
    assert EFFORT.startswith("Twelve short questions")


def test_removal_names_the_person_and_asks_for_the_name(sign_in, cast, due):
    manager = sign_in(cast.manager_a)
    customer = Customer.objects.get(name="Ada Example")
    for way in ("withdraw", "erase"):
        address = f"/fittings/customers/{customer.pk}/{way}/"
        assert "Ada Example" in text_of(manager.get(address))
        for name in ("", "Bea Sample"):
            refused = manager.post(address, {"reason": "in-person", "name": name})
            assert refused.status_code == 400
            assert "so that nobody else is removed by mistake" in text_of(refused)
        assert Customer.objects.filter(pk=customer.pk).exists()
    done = manager.post(f"/fittings/customers/{customer.pk}/erase/", {"reason": "in-person", "name": " ada  EXAMPLE"})
    assert done.status_code == 302
    assert not Customer.objects.filter(pk=customer.pk).exists()
