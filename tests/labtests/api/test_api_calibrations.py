"""The API of calibrations and of the chambers' climate."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from knox.models import AuthToken
from rest_framework.test import APIClient

from labtests import services
from labtests.models import Calibration, ClimateLog
from tests.labtests.services.bench.test_climate_logs import logger
from tests.labtests.services.bench.test_conditioning_log import put_in

ADDRESS = "/api/lab/rigs/rig-1/calibrations/"
GIVEN = {
    "quantity": "force",
    "certificate": "C-77",
    "calibrated_on": "2026-02-01",
    "due_on": "2027-02-01",
    "standard_uncertainty": 0.4,
    "resolution": 0.1,
}


def api_of(person):
    api = APIClient()
    api.credentials(HTTP_AUTHORIZATION=f"Token {AuthToken.objects.create(person)[1]}")
    return api


@pytest.fixture
def technician(lab):
    return api_of(lab.technician)


@pytest.fixture
def reviewer(lab):
    return api_of(lab.reviewer)


def test_calibration_is_recorded_signed_and_struck(technician, reviewer, lab):
    more = {"laboratory": "Harrow Metrology", "points": [{"reference": 0, "found": 0.2, "left": 0}], "zero": 0}
    made = technician.post(ADDRESS, {**GIVEN, **more}, format="json")
    assert made.status_code == 201
    body = made.json()
    assert (body["recorded_by"], body["signed"], body["points"]) == (
        "technician",
        False,
        [{"reference": 0.0, "found": 0.2, "left": 0.0}],
    )
    assert {name: body[name] for name in GIVEN} == GIVEN
    sign = f"/api/lab/calibrations/{body['id']}/sign/"
    own = technician.post(sign)
    assert (own.status_code, own.json()["code"]) == (403, "own_calibration")
    assert reviewer.post(sign).json()["signed_by"] == "reviewer"
    assert reviewer.post(sign).status_code == 409
    strike = f"/api/lab/calibrations/{body['id']}/strike/"
    assert technician.post(strike, {"reason": "x"}, format="json").status_code == 403
    assert reviewer.post(strike, {}, format="json").status_code == 400
    assert reviewer.post(strike, {"reason": "wrong rig"}, format="json").json()["struck_because"] == "wrong rig"
    assert technician.get(ADDRESS).json()["count"] == 6


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"standard_uncertainty": 0}, "standard_uncertainty"),
        ({"due_on": "2126-02-01"}, "due_on"),
        ({"calibrated_on": "2999-01-01", "due_on": "2999-12-01"}, "calibrated_on"),
        ({"range_low": 3, "range_high": 3}, "range_high"),
        ({"quantity": "colour"}, "quantity"),
        ({"points": [{"reference": "a", "found": 1}]}, "points"),
        ({"standard_uncertainty": "nan"}, "standard_uncertainty"),
    ],
)
def test_what_can_not_be_is_refused_by_field(technician, change, field):
    answer = technician.post(ADDRESS, {**GIVEN, **change}, format="json")
    assert answer.status_code == 400
    assert field in answer.json()["fields"]
    assert not Calibration.objects.filter(certificate="C-77").exists()


def test_list_takes_as_many_queries_with_more_calibrations(technician):
    technician.get(ADDRESS)
    with CaptureQueriesContext(connection) as few:
        assert technician.get(ADDRESS).json()["count"] == 5
    technician.post(ADDRESS, GIVEN, format="json")
    with CaptureQueriesContext(connection) as more:
        assert technician.get(ADDRESS).json()["count"] == 6
    assert len(more) == len(few) <= 12


def test_climate_is_tried_imported_once_and_refused_whole(technician, lab):
    chamber = services.chamber_create(actor=lab.reviewer, code="C-1")
    put_in(lab, chamber)
    test = lab.accepted()
    address = "/api/lab/chambers/C-1/climate/"

    def send(data, **more):
        return technician.post(address, {"file": SimpleUploadedFile("a.csv", data), **more}, format="multipart")

    dry = send(logger(warm_at_h=10.0), dry_run=True)
    assert (dry.status_code, dry.json()["held"], dry.json()["id"]) == (200, [test.pk], None)
    assert not ClimateLog.objects.exists()
    made = send(logger(warm_at_h=10.0))
    assert (made.status_code, made.json()["held"]) == (201, [test.pk])
    again = send(logger(warm_at_h=10.0))
    assert (again.status_code, again.json()["id"]) == (200, made.json()["id"])
    for more in ({}, {"dry_run": True}):
        bad = send(b"time,temp [C]\n2026-03-02 10:00,23\n", **more)
        assert (bad.status_code, bad.json()["code"]) == (400, "bad_climate_file")
        assert "line 2, time: “2026-03-02 10:00” has no offset" in bad.json()["fields"]["file"][0]
    assert send(logger(), unit="K").status_code == 400
    assert technician.post(address, {}, format="multipart").status_code == 400
    assert technician.post("/api/lab/chambers/C-9/climate/", {}, format="multipart").status_code == 404
