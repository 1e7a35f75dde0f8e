"""The first steps of a new practice: what is missing, who may do it, and when the pointer goes."""

from __future__ import annotations

import pytest
from django.db.models import Q
from django.urls import NoReverseMatch, reverse

from core.gate.access import Role
from core.models import Store
from core.web import first_steps
from tests.people import person

PAGE = "/office/first-steps/"


@pytest.fixture
def alone(db, sign_in):
    """Head office in an empty practice."""
    return sign_in(person("chief", Role.OFFICE))


def states(client):
    return {state.step.title: state for state in client.get(PAGE).context["states"]}


def test_empty_practice_lacks_everything_in_this_order(alone):
    found = list(states(alone).values())
    assert [state.step.title for state in found] == [
        "Store",
        "Staff",
        "Shoes",
        "Rig and calibrations",
        "Conditioning chamber",
        "First test",
        "First publication",
        "Stock",
        "First fitting",
    ]
    assert not any(state.is_done for state in found)
    assert [state.is_next for state in found] == [True] + [False] * 8


def test_page_links_to_what_the_reader_may_do_and_names_who_does_the_rest(alone):
    page = alone.get(PAGE).content.decode()
    assert f'href="{reverse("core:store-new")}"' in page
    assert 'Open<span class="visually-hidden"> Store</span>' in page
    assert 'Open<span class="visually-hidden"> Rig and calibrations</span>' not in page
    assert "For: lab technician, lab reviewer." in page


def test_every_step_leads_to_a_page(alone):
    for state in states(alone).values():
        try:
            reverse(state.step.url_name)
        except NoReverseMatch:
            pytest.fail(state.step.title)


def test_step_is_done_once_it_is_there(alone):
    Store.objects.create(slug="quay", name="Quay")
    found = states(alone)
    assert found["Store"].is_done
    assert found["Staff"].is_next


def test_staff_is_complete_with_somebody_for_every_task(alone, db):
    store = Store.objects.create(slug="quay", name="Quay")
    for number, role in enumerate((Role.TECHNICIAN, Role.REVIEWER, Role.MANAGER)):
        person(f"one-{number}", role, store if role == Role.MANAGER else None)
    assert not states(alone)["Staff"].is_done
    fitter = person("fitter", Role.FITTER, store)
    assert states(alone)["Staff"].is_done
    fitter.is_active = False
    fitter.save()
    assert not states(alone)["Staff"].is_done


def test_start_page_points_to_the_steps_while_some_are_missing(alone, monkeypatch):
    page = alone.get(reverse("outcomes:home")).content.decode()
    assert "9 steps left" in page
    assert f'href="{PAGE}"' in page
    done = first_steps.Step(1, "Store", "", "core:store-new", "core.store:write", lambda: Q(pk__isnull=False))
    monkeypatch.setattr(first_steps, "_steps", {"Store": done})
    assert PAGE not in alone.get(reverse("outcomes:home")).content.decode()


def test_others_see_no_pointer(cast, sign_in):
    assert PAGE not in sign_in(cast.manager_a).get(reverse("outcomes:home")).content.decode()
    assert sign_in(cast.manager_a).get(PAGE).status_code == 403


def test_page_costs_one_query_more_than_any_page(alone, django_assert_num_queries):
    alone.get(PAGE)
    with django_assert_num_queries(4):  # session, user, roles, all steps
        alone.get(PAGE)
