"""A store manager sees and changes the people of the own store, and of no other."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from core.gate.access import Role, allowed
from core.models import AuditEntry, Membership, User


@pytest.fixture
def manager(people, sign_in):
    return sign_in(people.manager_a)


def page(name, *args):
    return reverse(f"core:{name}", args=args)


def test_list_shows_the_own_store_alone(manager, people):
    text = manager.get(page("staff-list")).content.decode()
    assert "fitter-a" in text
    assert "manager-a" in text
    assert "fitter-b" not in text


def test_list_costs_the_same_for_many(manager, people, django_assert_num_queries):
    def cost():
        with django_assert_num_queries(5):  # session, user, roles of the reader, stores, memberships
            manager.get(page("staff-list"))

    cost()
    for number in range(10):
        user = User.objects.create(username=f"more-{number}")
        Membership.objects.create(user=user, role=Role.FITTER, store=people.store_a)
    cost()


def test_new_fitter_works_in_the_store_and_has_a_temporary_password(manager, people, give_password, actions):
    data = {"username": "fresh", "first_name": "Fern", "reason": "taken on"}
    response = manager.post(page("fitter-new", "store-a"), data)
    password = re.search(r"<samp>([a-z2-9-]{19})</samp>", response.content.decode()).group(1)
    user = User.objects.get(username="fresh")
    assert give_password("fresh", password).status_code == 302
    assert [(held.role, held.store) for held in user.memberships.all()] == [("fitter", people.store_a)]
    entry = AuditEntry.objects.filter(action="core.membership.granted").first()
    assert entry.actor == people.manager_a
    assert entry.content["store"] == "store-a"


@pytest.mark.parametrize("field", ["role", "store", "is_demo", "must_change_password"])
def test_fields_that_are_not_asked_for_are_not_taken(manager, people, field):
    data = {"username": "fresh", "reason": "taken on", field: {"role": "office", "store": "2"}.get(field, "on")}
    manager.post(page("fitter-new", "store-a"), data)
    user = User.objects.get(username="fresh")
    assert [(held.role, held.store) for held in user.memberships.all()] == [("fitter", people.store_a)]
    assert not user.is_demo


def test_user_name_that_is_taken_is_refused_at_its_field(manager, people):
    response = manager.post(page("fitter-new", "store-a"), {"username": "Fitter-B", "reason": "taken on"})
    assert "already" in response.content.decode()
    assert not User.objects.filter(username="Fitter-B").exists()


def test_known_fitter_fits_here_too(manager, people):
    response = manager.post(page("fitter-add", "store-a"), {"username": "fitter-b", "reason": "helps out"})
    assert response.status_code == 302
    assert allowed(User.objects.get(username="fitter-b"), "fittings.fitting:write", people.store_a)


@pytest.mark.parametrize(
    ("username", "says"),
    [("nobody", "No active account"), ("fitter-a", "already has this role"), ("", "required")],
)
def test_fitter_that_cannot_be_added_is_told(manager, people, username, says):
    response = manager.post(page("fitter-add", "store-a"), {"username": username, "reason": "helps out"})
    assert response.status_code == 400
    assert says in response.content.decode()


def test_account_that_is_off_is_not_added(manager, people):
    people.fitter_b.is_active = False
    people.fitter_b.save()
    response = manager.post(page("fitter-add", "store-a"), {"username": "fitter-b", "reason": "helps out"})
    assert "No active account" in response.content.decode()


def test_withdrawn_fitter_sees_nothing_of_the_store_at_once(manager, people, sign_in):
    held = people.fitter_a.memberships.get()
    address = page("fitter-withdraw", "store-a", held.pk)
    assert manager.get(address).status_code == 200
    assert manager.post(address, {"reason": "has left"}).status_code == 302
    user = User.objects.get(pk=people.fitter_a.pk)
    assert user.is_active
    assert not allowed(user, "fittings.fitting:read")
    assert AuditEntry.objects.get(action="core.membership.withdrawn").content["reason"] == "has left"


def test_withdrawal_needs_a_reason(manager, people):
    held = people.fitter_a.memberships.get()
    assert manager.post(page("fitter-withdraw", "store-a", held.pk), {}).status_code == 400
    assert Membership.objects.filter(pk=held.pk).exists()


def test_manager_is_not_withdrawn_by_a_manager(manager, people):
    held = people.manager_a.memberships.get()
    assert manager.post(page("fitter-withdraw", "store-a", held.pk), {"reason": "x"}).status_code == 404


@pytest.mark.parametrize("name", ["fitter-new", "fitter-add"])
def test_other_store_does_not_exist(manager, people, name):
    assert manager.get(page(name, "store-b")).status_code == 404
    assert manager.post(page(name, "store-b"), {"username": "x", "reason": "x"}).status_code == 404


def test_fitter_of_another_store_is_not_withdrawn(manager, people):
    held = people.fitter_b.memberships.get()
    for store in ("store-a", "store-b"):
        assert manager.post(page("fitter-withdraw", store, held.pk), {"reason": "x"}).status_code == 404
    assert Membership.objects.filter(pk=held.pk).exists()


def test_store_where_one_only_fits_is_refused(manager, people):
    Membership.objects.create(user=people.manager_a, role=Role.FITTER, store=people.store_b)
    assert manager.get(page("fitter-new", "store-b")).status_code == 403
    assert "fitter-b" not in manager.get(page("staff-list")).content.decode()


@pytest.mark.parametrize("role", ["fitter_a", "technician", "reviewer", "office"])
def test_others_are_refused(people, sign_in, role):
    assert sign_in(getattr(people, role)).get(page("staff-list")).status_code == 403
