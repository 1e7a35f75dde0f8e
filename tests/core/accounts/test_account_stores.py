"""Head office adds stores and changes what visitors read of them."""

from __future__ import annotations

import pytest
from django.urls import reverse

from core.models import AuditEntry, Store


@pytest.fixture
def office(people, sign_in):
    return sign_in(people.office)


NEW = {
    "name": "Quay",
    "slug": "quay",
    "street": "1 Long Quay",
    "postcode": "QY1",
    "town": "Port",
    "phone": "+00 1",
    "hours": "Mon to Fri 9 to 5 \r\n\r\nSat 9 to 12\r\n",
}


def test_new_store_is_on_the_web_and_in_the_trail(office, client, cast):
    assert office.post(reverse("core:store-new"), NEW).status_code == 302
    store = Store.objects.get(slug="quay")
    assert store.hours == "Mon to Fri 9 to 5\n\nSat 9 to 12"
    assert "1 Long Quay" in client.get(reverse("catalogue:store-detail", args=["quay"])).content.decode()
    assert AuditEntry.objects.filter(action="core.store.created").first().actor == cast.office


def test_changed_store_keeps_its_address_on_the_web(office, cast, actions):
    data = {**NEW, "slug": "elsewhere", "name": "Store A, moved"}
    assert office.post(reverse("core:store-edit", args=["store-a"]), data).status_code == 302
    store = Store.objects.get(slug="store-a")
    assert (store.name, store.phone) == ("Store A, moved", "+00 1")
    assert actions(store) == ["core.store.changed"]
    assert AuditEntry.objects.get(action="core.store.changed").content["before"]["name"] == "Store A"


def test_form_shows_what_is_kept(office, cast):
    text = office.get(reverse("core:store-edit", args=["store-a"])).content.decode()
    assert 'value="Store A"' in text


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"slug": "store-a"}, "already exists"),
        ({"slug": "Quay"}, "lower-case letters"),
        ({"slug": "qu ay"}, "lower-case letters, digits and hyphens"),
        ({"name": ""}, "Fill in “Name”."),
        ({"name": "x" * 81}, "at most 80"),
        ({"street": "two\x0blines"}, "control characters"),
        ({"phone": "nul\x00"}, "characters that cannot be seen"),
        ({"hours": "x" * 1001}, "at most 1000"),
    ],
)
def test_store_that_cannot_be_is_refused_at_its_field(office, cast, data, says):
    response = office.post(reverse("core:store-new"), {**NEW, **data})
    assert response.status_code == 400
    assert says in response.content.decode()
    assert Store.objects.count() == 2


def test_store_that_is_not_there_is_not_found(office, cast):
    assert office.get(reverse("core:store-edit", args=["nowhere"])).status_code == 404


def test_list_costs_the_same_for_many(office, cast, django_assert_num_queries):
    def cost():
        with django_assert_num_queries(4):  # session, user, roles of the reader, stores
            office.get(reverse("core:store-list"))

    cost()
    Store.objects.bulk_create([Store(slug=f"more-{number}", name=f"More {number}") for number in range(20)])
    cost()


@pytest.mark.parametrize("role", ["manager_a", "fitter_a", "technician", "reviewer"])
def test_others_are_refused(cast, sign_in, role):
    assert sign_in(getattr(cast, role)).get(reverse("core:store-list")).status_code == 403
