"""The API of what a person may ask for: own stores, the same services, the same trail as the pages."""

from __future__ import annotations

import pytest

from core.models import AuditEntry
from fittings.models import Customer, Fitting
from fittings.selectors.people.personal_data import tables_of_customers
from tests.fittings.models.test_row_security import EMAIL, NAME, person_of_a  # noqa: F401  a fixture

pytestmark = pytest.mark.usefixtures("db")

ASKED = {"reason": "in-writing"}


@pytest.fixture
def customer(person_of_a):  # noqa: F811
    return person_of_a.customer


def post(client, customer, what, body=ASKED):
    return client.post(f"/api/customers/{customer.pk}/{what}/", body, format="json")


def test_look_up_finds_own_customers_alone(customer, api_for, cast):
    def found(user):
        return api_for(user).post("/api/customers/look-up/", {"words": "distinct"}, format="json").json()["results"]

    assert found(cast.fitter_a) == [
        {"id": customer.pk, "store": "store-a", "name": NAME, "email": EMAIL, "phone": customer.phone}
    ]
    assert found(cast.fitter_b) == []


def test_export_holds_every_protected_table_and_is_noted(customer, api_for, cast):
    answer = post(api_for(cast.manager_a), customer, "export")
    assert answer.status_code == 200
    assert answer.headers["Cache-Control"] == "no-store"
    held = answer.json()
    assert held["records"].keys() == {item.model._meta.label_lower for item in tables_of_customers()}
    assert held["records"]["fittings.customer"][0]["email"] == EMAIL
    entry = AuditEntry.objects.get(action="fittings.customer.exported")
    assert (entry.object_id, entry.content["reason"]) == (str(customer.pk), "asked for in writing")


def test_withdrawal_leaves_a_bare_fitting(customer, api_for, cast):
    pk = customer.fittings.get().pk
    answer = post(api_for(cast.fitter_a), customer, "withdraw")
    assert (answer.status_code, answer.json()) == (200, {"id": customer.pk, "done": "withdrawn"})
    assert not Customer.objects.exists()
    assert not Fitting.objects.get(pk=pk).kept
    assert post(api_for(cast.fitter_a), customer, "withdraw").status_code == 404


def test_erasure_leaves_no_row(customer, api_for, cast):
    answer = post(api_for(cast.manager_a), customer, "erase")
    assert (answer.status_code, answer.json()) == (200, {"id": customer.pk, "done": "erased"})
    for item in tables_of_customers():
        assert not item.model._base_manager.exists(), item.model


@pytest.mark.parametrize("what", ["export", "withdraw", "erase"])
def test_another_store_and_a_missing_right_are_refused(what, customer, api_for, cast):
    assert post(api_for(cast.fitter_b), customer, what).status_code == (404 if what == "withdraw" else 403)
    assert post(api_for(cast.office), customer, what).status_code == 403
    if what != "withdraw":
        assert post(api_for(cast.fitter_a), customer, what).status_code == 403
    assert Customer.objects.filter(pk=customer.pk).exists()


@pytest.mark.parametrize("body", [{}, {"reason": "she moved away"}, {"reason": None}, {"reason": ["in-writing"]}, []])
def test_reason_is_one_of_the_choices(body, customer, api_for, cast):
    answer = post(api_for(cast.manager_a), customer, "erase", body)
    assert answer.status_code == 400
    assert answer.json()["code"] == "invalid"
    assert Customer.objects.filter(pk=customer.pk).exists()


@pytest.mark.parametrize("words", ["", "x" * 81, None, "nul\x00", 7 * ["a"]])
def test_look_up_refuses_what_is_no_text(words, api_for, cast):
    answer = api_for(cast.fitter_a).post("/api/customers/look-up/", {"words": words}, format="json")
    assert answer.status_code == 400
