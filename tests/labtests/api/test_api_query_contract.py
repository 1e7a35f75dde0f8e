"""Query keys of the lab's API: what the schema states is accepted, everything else is a 400 that names the key."""

from __future__ import annotations

import pytest
from django.urls import reverse
from drf_spectacular.generators import SchemaGenerator
from rest_framework.test import APIClient

from core.gate.checks import methods_of
from core.web.api import PracticePagination, QueryView
from labtests.api_urls import urlpatterns

API = "/api/lab/"
LISTS = ("tests/", "audit/", "conditioning/", "chambers/", "studies/", "models/")
PAGE_KEYS = ["page", "page_size"]


@pytest.fixture
def technician(lab):
    client = APIClient()
    client.force_authenticate(lab.technician)
    return client


def refused(response):
    body = response.json()
    assert (response.status_code, body["code"]) == (400, "bad_query")
    for name in body["fields"]:
        assert name in body["detail"]
    return [*body["fields"]]


@pytest.mark.parametrize("address", LISTS)
@pytest.mark.parametrize("value", ["0", "null", "", "501", "-1", "+1", " 1", "1.0", "x", "9" * 5000])
def test_page_size_outside_the_schema_is_refused_by_name(technician, address, value):
    assert refused(technician.get(API + address, {"page_size": value})) == ["page_size"]


@pytest.mark.parametrize("address", LISTS)
def test_page_sizes_that_the_schema_states_are_accepted(technician, address):
    for size in ("1", str(PracticePagination.max_page_size)):
        assert technician.get(API + address, {"page": "1", "page_size": size}).status_code == 200
    assert technician.get(API + address, {"page": "7"}).status_code == 404


@pytest.mark.parametrize("address", LISTS)
def test_each_key_that_is_unknown_or_given_twice_is_named(technician, address):
    names = refused(technician.get(API + address + "?performed_from=2026-03-04&page=1&page=2&format=json"))
    assert sorted(names) == ["format", "page", "performed_from"]


@pytest.mark.parametrize(
    ("address", "query"),
    [
        ("tests/", {"state": "foo"}),
        ("tests/", {"state": ""}),
        ("tests/", {"shoe": "no slug"}),
        ("tests/", {"rig": "rig\x001"}),
        ("tests/", {"specimen": ""}),
        ("audit/", {"until": ""}),
        ("audit/", {"since": "null"}),
        ("audit/", {"number": ""}),
        ("conditioning/", {"state": "lost"}),
        ("precision/", {"quantity": "weight"}),
        ("precision/", {"specimen": "no code"}),
        ("precision/", {"begins_on": "March"}),
    ],
)
def test_value_outside_the_schema_is_refused_by_name(technician, address, query):
    assert refused(technician.get(API + address, query)) == [*query]


def test_every_address_refuses_an_unknown_key_and_states_the_keys_it_accepts(technician, lab):
    paths = SchemaGenerator().get_schema(request=None, public=True)["paths"]
    seen = set()
    for entry in urlpatterns:
        view = entry.callback.cls
        assert issubclass(view, QueryView)
        path = API + str(entry.pattern).replace("<int:pk>", "{id}").replace("<str:", "{").replace("<slug:", "{")
        stated = paths[path.replace(">", "}")]
        values = {name: "1" if name == "pk" else "x" for name in entry.pattern.converters}
        address = reverse(f"labtests-api:{entry.name}", kwargs=values)
        if "GET" in methods_of(entry.callback):
            keys = {each["name"] for each in stated["get"].get("parameters", []) if each["in"] == "query"}
            assert keys == set(view.query().fields)
            required = {name for name, field in view.query().fields.items() if field.required}
            assert set(refused(technician.get(address, {"surely_unknown": "1"}))) == {"surely_unknown"} | required
            seen.add(entry.name)
    assert len(seen) >= 15


def test_schema_states_bounds_choices_and_shapes():
    paths = SchemaGenerator().get_schema(request=None, public=True)["paths"]
    keys = {each["name"]: each for each in paths[API + "tests/"]["get"]["parameters"]}
    assert keys["page_size"]["schema"] == {"type": "integer", "minimum": 1, "maximum": 500}
    assert set(keys["state"]["schema"]["enum"]) == {"accepted", "held", "approved", "void"}
    assert keys["rig"]["schema"]["pattern"] == "^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$"
    assert not any(each.get("required") for each in keys.values())
