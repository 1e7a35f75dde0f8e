"""The API takes what its schema says and nothing else, and names what is wrong."""

from __future__ import annotations

import pytest

from catalogue.domain.sizes import SIZE_PATTERN
from catalogue.forms.api_query import ShoeQuery
from tests.shared import shared

LISTS = ("shoes/", "shoes/reed/similar/", "bands/", "stores/")


@shared
def reed(make_shoe, make_store, put_in_stock):
    put_in_stock(make_store(), make_shoe("reed"), "42")
    make_shoe("rush", stability=52.0)


def refused(client, address):
    answer = client.get(f"/api/catalogue/{address}")
    assert answer.status_code == 400, answer.content
    assert answer.json()["code"] == "bad_query"
    return answer.json()["fields"]


@pytest.mark.usefixtures("reed")
@pytest.mark.parametrize("address", [*LISTS, "shoes/reed/"])
def test_unknown_key_is_named(client, address):
    (sentence,) = refused(client, f"{address}?until=2026")["until"]
    assert sentence.startswith("There is no query key “until” here.")


@pytest.mark.usefixtures("reed")
@pytest.mark.parametrize("address", LISTS)
@pytest.mark.parametrize(
    "asked",
    ["page_size=0", "page_size=null", "page_size=", "page=0", "page=-1", "page=1.5", "page=1_0", "page_size=501"],
)
def test_page_outside_the_schema_is_named(client, address, asked):
    assert set(refused(client, f"{address}?{asked}")) == {asked.partition("=")[0]}


@pytest.mark.usefixtures("reed")
@pytest.mark.parametrize(
    "asked",
    [
        "mass_max=", "mass_max=null", "mass_max=5,02", "mass_max=2001", "mass_max=nan", "mass_max=%D9%A3",
        "drop_min=-121", "order=colour", "order=", "use=swimming", "use=", "band=9", "band=", "size=4", "size=",
        "size=99", "size=UK%2044", "size=US%209", "size=84%20mm", "size=UK%208.3", "store=moon",
        "store=", "store=a%20b", "q=a%00b", "midfoot_min=60&midfoot_max=50",
    ],
)  # fmt: skip
def test_filter_outside_the_schema_is_named(client, asked):
    assert set(refused(client, f"shoes/?{asked}")) == {asked.partition("=")[0]}


@pytest.mark.usefixtures("reed")
def test_key_given_twice_is_named_and_every_problem_is_listed(client):
    fields = refused(client, "shoes/?store=harbour&store=mill&page=0&view=map")
    assert set(fields) == {"store", "page", "view"}
    assert fields["store"] == ["Give store once, not 2 times."]


@pytest.mark.usefixtures("reed")
@pytest.mark.parametrize(
    "asked",
    [
        "", "q=", "page_size=500", "mass_max=1e3", "mass_max=1.5e-7", "drop_min=-0.0", "midfoot_min=-1000",
        "use=running&use=walking", "band=1&band=2", "band=Little%20hold", "size=EU%2042", "size=42.5", "size=42,5",
        "size=UK%208", "size=us%20m%209", "size=US%20W%2010.5", "size=265%20mm", "store=harbour",
        "order=-drop", "q=%20reed%09",
    ],
)  # fmt: skip
def test_value_of_the_schema_is_accepted(client, asked):
    assert client.get(f"/api/catalogue/shoes/?{asked}").status_code == 200


def test_schema_declares_the_keys_with_their_ranges(client, db):
    schema = client.get("/api/schema/?format=json").json()
    parameters = schema["paths"]["/api/catalogue/shoes/"]["get"]["parameters"]
    described = {parameter["name"]: parameter["schema"] for parameter in parameters}
    assert set(described) == set(ShoeQuery().fields)
    assert described["page_size"] == {"type": "integer", "minimum": 1, "maximum": 500}
    assert (described["mass_max"]["minimum"], described["mass_max"]["maximum"]) == (0, 2000)
    assert described["use"]["items"]["enum"] == ["running", "walking", "standing"]
    assert "-drop" in described["order"]["enum"]
    assert described["size"]["pattern"] == SIZE_PATTERN


@pytest.mark.parametrize(
    "size", ["EU 40.5", "40.5", "40,5", "UK 7", "uk7", "US M 8", "US W 9", "256 mm", "256MM", " 40.5 "]
)
def test_stock_is_searched_by_a_size_in_every_system(client, make_shoe, make_store, put_in_stock, size):
    put_in_stock(make_store("fen"), make_shoe("reed"), "40.5")
    there = client.get("/api/catalogue/shoes/", {"size": size}).json()
    assert [shoe["slug"] for shoe in there["results"]] == ["reed"]
    assert {"slug": "fen", "sizes": ["EU 40.5"]} in there["results"][0]["stores"]
    assert client.get("/api/catalogue/shoes/", {"size": "US M 12"}).json()["count"] == 0


@pytest.mark.usefixtures("reed")
@pytest.mark.parametrize("size", ["UK 44", "US 9", "84 mm", "large", ""])
def test_size_that_cannot_be_is_refused_with_the_forms_that_can(client, size):
    answer = client.get("/api/catalogue/shoes/", {"size": size})
    assert answer.status_code == 400
    assert "EU 42.5, UK 8, US M 9, US W 10.5 or 265 mm" in answer.json()["fields"]["size"][0]


@pytest.mark.usefixtures("reed")
@pytest.mark.parametrize("address", ["/", "/shoes/reed/", "/stores/"])
def test_pages_ignore_keys_that_are_not_theirs(client, address):
    assert client.get(f"{address}?until=2026").status_code == 200
