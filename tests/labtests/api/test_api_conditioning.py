"""The bench day and the conditioning log in the API."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from labtests import services
from labtests.models import Calibration, ConditioningEntry
from tests.labtests.bench_text import bench_bytes, curve_rows

NOW = dt.datetime(2026, 3, 6, 12, 0, tzinfo=dt.UTC)
LOG, CHAMBERS, BENCH, TESTS = "/api/lab/conditioning/", "/api/lab/chambers/", "/api/lab/bench/", "/api/lab/tests/"
NEW = {"specimen": "F2-01", "chamber": "C-1", "shoe": "fenrunner-2", "size": "42.5", "side": "left"}


@pytest.fixture(autouse=True)
def _noon(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOW)


@pytest.fixture
def technician(lab, api_for):
    services.chamber_create(actor=lab.reviewer, code="C-1", name="Walk-in room")
    return api_for(lab.technician)


def put_in(client, **change):
    return client.post(LOG, {**NEW, **change}, format="json")


def test_specimen_is_put_in_and_taken_out(technician):
    answer = put_in(technician, in_at="2026-03-04T08:00:00Z", note="pair of F2-02")
    assert answer.status_code == 201
    body = answer.json()
    assert body.keys() == {
        *("id", "specimen", "shoe", "size", "side", "chamber", "in_at", "out_at", "hours", "noted_at", "put_in_by"),
        *("taken_out_by", "note", "struck", "struck_because"),
    }
    assert (body["size"], body["hours"], body["put_in_by"]) == ("EU 42.5", None, "technician")
    out = technician.post(f"{LOG}{body['id']}/out/", {"out_at": "2026-03-06T11:30:00+00:00"}, format="json")
    assert out.status_code == 200
    assert (out.json()["hours"], out.json()["taken_out_by"]) == (51.5, "technician")


def test_same_again_answers_200_and_notes_nothing(technician):
    assert put_in(technician).status_code == 201
    again = put_in(technician)
    assert again.status_code == 200
    assert ConditioningEntry.objects.count() == 1


def test_specimen_that_is_elsewhere_answers_409(technician, lab, api_for):
    put_in(technician)
    answer = put_in(api_for(lab.reviewer))
    assert answer.status_code == 409
    assert answer.json()["code"] == "already_in_chamber"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"chamber": "C-9"}, "chamber"),
        ({"specimen": "a b"}, "specimen"),
        ({"specimen": "a\x00"}, "specimen"),
        ({"shoe": "no-such"}, "shoe"),
        ({"size": "big"}, "size"),
        ({"size": "NaN"}, "size"),
        ({"side": "middle"}, "side"),
        ({"in_at": "yesterday"}, "in_at"),
        ({"in_at": "2026-03-09T08:00:00Z"}, "in_at"),
        ({"out_at": "2026-03-06T11:00:00Z", "in_at": "2026-03-06T11:30:00Z"}, None),
        ({"note": "x" * 301}, "note"),
    ],
)
def test_what_cannot_be_put_in_is_explained_by_field(technician, change, field):
    answer = put_in(technician, **change)
    assert answer.status_code == 400, answer.json()
    assert field is None or field in answer.json()["fields"]
    assert not ConditioningEntry.objects.exists()


@pytest.mark.parametrize("body", ["", "[]", "[1]", '"x"', "{", "[" * 100_000, '{"specimen": {"a": 1}}', "null"])
def test_odd_bodies_are_refused(technician, body):
    for address in (LOG, f"{LOG}1/out/", f"{LOG}1/strike/", CHAMBERS):
        answer = technician.generic("POST", address, body, content_type="application/json")
        assert answer.status_code in (400, 404), answer.content[:200]


def test_wrong_entry_is_struck(technician):
    entry = put_in(technician).json()["id"]
    assert technician.post(f"{LOG}{entry}/strike/", {}, format="json").status_code == 400
    struck = technician.post(f"{LOG}{entry}/strike/", {"reason": "wrong shoe"}, format="json")
    assert struck.json()["struck"]
    again = technician.post(f"{LOG}{entry}/strike/", {"reason": "again"}, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "struck")
    assert technician.post(f"{LOG}{entry}/out/", {}, format="json").status_code == 409
    assert technician.post(f"{LOG}999/out/", {}, format="json").status_code == 404


def test_log_is_listed_paged_and_filtered(technician):
    put_in(technician)
    put_in(technician, specimen="F2-02")
    body = technician.get(LOG, {"page_size": 1}).json()
    assert (body["count"], len(body["results"]), body["previous"]) == (2, 1, None)
    assert technician.get(LOG, {"specimen": "F2-02"}).json()["count"] == 1
    assert technician.get(LOG, {"state": "struck"}).json()["count"] == 0
    assert technician.get(LOG, {"state": "lost"}).status_code == 400
    refused = technician.get(LOG, {"chamber": "C\x00-1"})
    assert (refused.status_code, [*refused.json()["fields"]]) == (400, ["chamber"])


def test_chambers_are_listed_and_made(technician):
    made = technician.post(CHAMBERS, {"code": "C-2", "name": "Cabinet"}, format="json")
    assert (made.status_code, made.json()) == (201, {"code": "C-2", "name": "Cabinet", "in_chamber": 0})
    assert technician.post(CHAMBERS, {"code": "C-2"}, format="json").status_code == 400
    put_in(technician)
    listed = technician.get(CHAMBERS).json()["results"]
    assert [(one["code"], one["in_chamber"]) for one in listed] == [("C-1", 1), ("C-2", 0)]


def test_bench_day_says_what_the_page_says(technician, lab):
    put_in(technician, in_at="2026-03-04T11:00:00Z")
    put_in(technician, specimen="F2-02", in_at="2026-03-06T06:00:00Z")
    out = put_in(technician, specimen="F2-03", in_at="2026-03-04T08:00:00Z", out_at="2026-03-06T11:30:00Z")
    lab.accepted(specimen="F2-09", temperature="30 degC")
    Calibration.objects.filter(quantity="torque").update(due_on=dt.date(2026, 3, 16))
    body = technician.get(BENCH).json()
    (ready,) = body["ready"]
    assert (ready["specimen"], ready["hours_so_far"], ready["ready_at"]) == ("F2-01", 49.0, "2026-03-06T11:00:00+00:00")
    (conditioning,) = body["conditioning"]
    assert (conditioning["ready_at"], conditioning["ready"]) == ("2026-03-08T06:00:00+00:00", False)
    (waiting,) = body["taken_out"]
    assert (waiting["id"], waiting["test_by"], waiting["late"]) == (
        out.json()["id"],
        "2026-03-06T12:30:00+00:00",
        False,
    )
    message = "midsole temperature is 30 °C; accepted: 21 to 25 °C"
    assert body["held"][0]["reasons"] == [{"code": "temperature_c", "message": message}]
    assert (body["held_count"], body["required_h"]) == (1, 48.0)
    assert body["calibrations"] == [
        {"rig": "rig-1", "quantity": "torque", "due_on": "2026-03-16", "words": "due in 10 days"}
    ]


def test_conditions_of_a_test_say_whose_word_the_hours_are(technician, lab):
    claimed = lab.accepted(specimen="F2-01")
    body = technician.get(f"{TESTS}{claimed.pk}/").json()["conditions"]
    assert (body["conditioned_h"], body["conditioned_source"]) == (50.2, "file")
    assert body["conditioned_words"] == "as claimed by the file"
    put_in(technician, specimen="F2-02", in_at="2026-03-02T08:15:00Z")
    data = bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen="F2-02", conditioned="50.4 h")
    logged = lab.upload(data).tests.get()
    body = technician.get(f"{TESTS}{logged.pk}/").json()["conditions"]
    assert (body["conditioned_h"], body["conditioned_source"], body["conditioned_claimed_h"]) == (50.0, "log", 50.4)


def test_list_of_tests_takes_no_query_for_each(technician, lab, django_assert_max_num_queries):
    for number in range(5):
        put_in(technician, specimen=f"F2-{number}", in_at="2026-03-02T08:15:00Z")
        lab.accepted(specimen=f"F2-{number}", conditioned="50 h")
    with django_assert_max_num_queries(12):
        body = technician.get(TESTS).json()
    assert {one["conditions"]["conditioned_source"] for one in body["results"]} == {"log"}
