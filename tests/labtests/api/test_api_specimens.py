"""Specimens in the API: the same services as the pages, each error with its code."""

from __future__ import annotations

import pytest

ADDRESS = "/api/lab/specimens/"
PAIR = {"shoe": "fenrunner-2", "size_eu": "42.5", "source": "shop", "received_on": "2026-03-02", "batch": "B 7"}


@pytest.fixture
def technician(lab, api_for):
    return api_for(lab.technician)


def post(client, address, body):
    return client.post(address, body, format="json")


def test_pair_is_received_moved_and_disposed_of(technician):
    made = post(technician, ADDRESS, {**PAIR, "price": "120.00", "currency": "EUR", "place": "shelf 4"})
    assert made.status_code == 201
    left, right = made.json()
    assert (left["code"], left["side"], left["size"]) == ("FENRUNNER-2-01-L", "left", "EU 42.5")
    assert (right["source"], right["batch"], right["tests"]) == ("shop", "B 7", 0)
    one = f"{ADDRESS}{left['code']}/"
    assert post(technician, f"{one}move/", {"place": "shelf 5"}).json()["place"] == "shelf 5"
    gone = post(technician, f"{one}dispose/", {"on": "2026-03-03", "reason": "cut open"})
    assert gone.json()["disposed_on"] == "2026-03-03"
    again = post(technician, f"{one}dispose/", {"on": "2026-03-03", "reason": "cut open"})
    assert (again.status_code, again.json()["code"]) == (409, "disposed")
    assert post(technician, f"{one}move/", {"place": "bin"}).status_code == 409
    assert technician.get(ADDRESS, {"state": "present"}).json()["count"] == 1
    assert technician.get(one).json()["disposed_because"] == "cut open"
    assert technician.get(f"{ADDRESS}no-such/").status_code == 404


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"shoe": "no-such"}, "unknown_shoe", "shoe"),
        ({"size_eu": "42.3"}, "invalid", "size_eu"),
        ({"size_eu": "200"}, "invalid", "size_eu"),
        ({"sides": []}, "invalid", "sides"),
        ({"sides": ["middle"]}, "invalid", "sides"),
        ({"received_on": "2999-01-01"}, "invalid", "received_on"),
        ({"source": "found"}, "invalid", "source"),
        ({"stem": "a b"}, "invalid", "stem"),
        ({"place": "a\u0000"}, "invalid", "place"),
        ({"price": "-1"}, "invalid", "price"),
    ],
)
def test_pair_that_cannot_be_received_is_named_by_field(technician, change, code, field):
    response = post(technician, ADDRESS, {**PAIR, **change})
    assert response.status_code == 400
    assert response.json()["code"] == code
    assert field in response.json()["fields"]
    assert technician.get(ADDRESS).json()["count"] == 0


def test_taken_codes_are_a_conflict(technician):
    assert post(technician, ADDRESS, {**PAIR, "stem": "A"}).status_code == 201
    refused = post(technician, ADDRESS, {**PAIR, "stem": "A"})
    assert (refused.status_code, refused.json()["code"]) == (409, "taken")


def test_unknown_query_keys_and_values_are_named(technician):
    refused = technician.get(ADDRESS, {"kind": "left", "colour": "red"})
    assert refused.status_code == 400
    assert set(refused.json()["fields"]) == {"kind", "colour"}


def test_office_reads_and_does_not_write(cast, lab, api_for):
    office = api_for(cast.office)
    assert office.get(ADDRESS).status_code == 200
    assert post(office, ADDRESS, PAIR).status_code == 403


def test_list_takes_the_same_queries_however_long(technician, django_assert_max_num_queries):
    for number in range(4):
        post(technician, ADDRESS, {**PAIR, "stem": f"P-{number}"})
    with django_assert_max_num_queries(7):
        assert technician.get(ADDRESS).json()["count"] == 8
