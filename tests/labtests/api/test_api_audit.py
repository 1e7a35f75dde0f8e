"""The trail in the API: the page's filters, one record's history, one entry; for the lab and head office alone."""

from __future__ import annotations

import pytest
from rest_framework.test import APIClient

from core.models import AuditEntry

AUDIT = "/api/lab/audit/"


@pytest.fixture
def technician(lab):
    client = APIClient()
    client.force_authenticate(lab.technician)
    return client


def test_trail_is_listed_newest_first_with_before_and_after(technician, lab):
    test = lab.approved()
    first = technician.get(AUDIT).json()["results"][0]
    assert (first["action"], first["record"], first["number"]) == (
        "labtests.test.approved",
        "labtests.benchtest",
        str(test.pk),
    )
    assert (first["before"]["state"], first["after"]["state"]) == ("accepted", "approved")


def test_filters_are_those_of_the_page(technician, lab):
    test = lab.approved()
    lab.accepted(specimen="F2-09")
    for query, expected in (
        (
            {"record": "labtests.benchtest", "number": str(test.pk)},
            {"labtests.test.accepted", "labtests.test.approved"},
        ),
        ({"action": "labtests.test.approved"}, {"labtests.test.approved"}),
        ({"who": "reviewer", "action": "labtests.test.accepted"}, set()),
        ({"until": "2001-01-01"}, set()),
    ):
        found = technician.get(AUDIT, query).json()
        assert {entry["action"] for entry in found["results"]} == expected
        assert found["count"] == len(found["results"])


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ({"since": "yesterday"}, "since"),
        ({"record": "core.user"}, "record"),
        ({"action": "no.such.action"}, "action"),
        ({"since": "2026-03-05", "until": "2026-03-04"}, "until"),
        ({"number": "9" * 65}, "number"),
    ],
)
def test_filter_that_is_none_is_refused_by_name(technician, lab, query, field):
    response = technician.get(AUDIT, query)
    assert response.status_code == 400
    assert response.json()["code"] == "bad_query"
    assert [*response.json()["fields"]] == [field]


def test_one_entry_is_given_by_its_number(technician, lab):
    lab.accepted()
    entry = AuditEntry.objects.latest("id")
    body = technician.get(f"{AUDIT}{entry.pk}/").json()
    assert (body["id"], body["hash"]) == (entry.pk, bytes(entry.hash).hex())


def test_entry_on_what_is_none_of_the_labs_is_not_found(technician, lab):
    other = AuditEntry.objects.exclude(object_type__startswith="labtests.").exclude(
        object_type__startswith="catalogue."
    )
    assert technician.get(f"{AUDIT}{other.latest('id').pk}/").status_code == 404
    assert technician.get(f"{AUDIT}999999/").status_code == 404


def test_nobody_writes_to_it(technician, lab):
    for method in ("post", "put", "patch", "delete"):
        assert getattr(technician, method)(AUDIT).status_code in (403, 405)


def test_looking_leaves_no_entry_and_takes_the_same_queries_however_long(
    technician, lab, django_assert_max_num_queries
):
    for n in range(3):
        lab.accepted(specimen=f"F2-2{n}")
    before = AuditEntry.objects.count()
    with django_assert_max_num_queries(5):
        technician.get(AUDIT)
    assert AuditEntry.objects.count() == before
