"""The lab's API: from an upload to the public card, and every way it may be refused."""

from __future__ import annotations

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labtests import services
from labtests.api import serializers
from tests.labtests.bench_text import READINGS_ROW, bench_bytes, curve_rows, readings_bytes

UPLOADS = "/api/lab/uploads/"
TESTS = "/api/lab/tests/"


@pytest.fixture
def technician(lab, api_for):
    return api_for(lab.technician)


@pytest.fixture
def reviewer(lab, api_for):
    return api_for(lab.reviewer)


def send(client, data, name="a.csv"):
    return client.post(UPLOADS, {"file": SimpleUploadedFile(name, data)}, format="multipart")


def review(client, pk, **body):
    return client.post(f"{TESTS}{pk}/review/", body, format="json")


def test_addresses_are_the_agreed_ones():
    assert reverse("labtests-api:upload-list") == UPLOADS
    assert reverse("labtests-api:test-audit", args=[3]) == "/api/lab/tests/3/audit/"
    assert reverse("labtests-api:shoe-publish", args=["x"]) == "/api/lab/shoes/x/publish/"


def test_upload_answers_201_with_what_became_of_it(technician):
    response = send(technician, bench_bytes())
    body = response.json()
    assert response.status_code == 201
    assert {"upload", "sha256", "accepted", "held", "rejected"} <= body.keys()
    assert body["accepted"][0].keys() == {"file", "specimen", "test"}
    assert len(body["sha256"]) == 64


def test_same_bytes_again_answer_200_and_the_same(technician):
    first, again = send(technician, bench_bytes()), send(technician, bench_bytes(), name="b.csv")
    assert again.status_code == 200
    assert again.json() == first.json()


def test_malformed_file_is_answered_by_line_and_column(technician):
    response = send(technician, bench_bytes(["torsion,1,loading,0,nan"], side="L"))
    assert response.status_code == 201
    rejected = response.json()["rejected"]
    assert [(entry["line"], entry["column"]) for entry in rejected] == [(5, "side"), (16, "load")]
    assert all(entry.keys() == {"file", "line", "column", "problem"} for entry in rejected)


def test_held_test_lists_its_reasons(technician):
    body = send(technician, bench_bytes(temperature="30 degC")).json()
    message = "midsole temperature is 30 °C; accepted: 21 to 25 °C"
    assert body["held"][0]["reasons"] == [{"code": "temperature_c", "message": message}]
    listed = technician.get(TESTS, {"state": "held"}).json()
    assert listed["count"] == 1
    assert listed["results"][0]["reasons"] == body["held"][0]["reasons"]


@pytest.mark.parametrize("data", [b"", b"\xff\xfe", b"PK\x03\x04", b"\x00" * 100, b"a" * 100_000])
def test_odd_bytes_are_answered_not_failed(technician, data):
    # An empty part is still a file: the verdict says that it is empty.
    response = send(technician, data)
    assert response.status_code == 201
    assert response.json()["rejected"]


@pytest.mark.parametrize(
    ("body", "kind"),
    [({}, "multipart"), ({"file": "text"}, "multipart"), ({"other": SimpleUploadedFile("a", b"x")}, "multipart")],
)
def test_request_without_a_file_is_400(technician, body, kind):
    response = technician.post(UPLOADS, body, format=kind)
    assert response.status_code == 400
    assert "file" in response.json()["fields"]


def test_upload_that_is_not_multipart_is_refused(technician):
    assert technician.post(UPLOADS, {"file": "x"}, format="json").status_code == 415
    broken = technician.generic("POST", UPLOADS, b"--x", content_type="multipart/form-data; boundary=y")
    assert broken.status_code == 400


def test_upload_over_the_limit_is_413(technician, settings):
    settings.UPLOAD_MAX_BYTES = 1000
    response = send(technician, b"x" * 1001)
    assert response.status_code == 413
    assert response.json()["code"] == "too_large"


def test_names_of_files_are_kept_plain(technician):
    body = send(technician, b"", name="../../etc/x.csv").json()
    assert body["rejected"][0]["file"] == "x.csv"


def test_roles_outside_the_lab_are_refused(cast, api_for):
    for person in (cast.fitter_a, cast.manager_a):
        assert send(api_for(person), b"x").status_code == 403
        assert api_for(person).get(TESTS).status_code == 403
    assert send(api_for(cast.office), b"x").status_code == 403
    assert api_for(cast.office).get(TESTS).status_code == 200


def test_test_is_said_as_agreed(technician, lab):
    test = lab.accepted()
    body = technician.get(f"{TESTS}{test.pk}/").json()
    assert body.keys() == serializers.LabTest().fields.keys()
    assert (body["state"], body["shoe"], body["specimen"], body["size"]) == (
        "accepted",
        "fenrunner-2",
        "F2-01",
        "EU 42.5",
    )
    assert (body["rig"], body["operator"], body["performed"]) == ("rig-1", "technician", "2026-03-04T10:15:00+00:00")
    assert body["conditions"].keys() == serializers.LabConditions().fields.keys()
    assert body["torque_15"] == pytest.approx(5.1)
    # By hand, the middle repeat: in 1 mm x 5 N / 2 + 5.9 mm x (5 + 444.8) N / 2, back 6.9 mm x 0.7 x 444.8 N / 2.
    assert body["energy_return"] == pytest.approx(0.8080, abs=1e-3)
    stability = body["scores"]["stability"]
    assert stability["expanded_uncertainty"] == pytest.approx(2 * test.results.get().stability_u)
    assert sum(entry["probability"] for entry in body["band_probabilities"]) == pytest.approx(1)
    assert [entry["order"] for entry in body["band_probabilities"]] == [1, 2, 3, 4, 5]
    assert body["scoring_model"] == "S1"
    assert [entry["action"] for entry in body["history"]] == ["labtests.test.accepted"]


def test_test_without_scores_says_null(technician, lab):
    test = lab.upload(bench_bytes(["torsion,1,loading,0,0", "torsion,1,loading,9,3"])).tests.get()
    body = technician.get(f"{TESTS}{test.pk}/").json()
    assert body["scores"]["stability"] == {
        "value": None,
        "expanded_uncertainty": None,
        "coverage_factor": None,
        "degrees_of_freedom": None,
        "estimated": False,
    }
    assert (body["torque_15"], body["band_probabilities"], body["scoring_model"]) == (None, [], None)


def test_list_is_filtered_and_paged(technician, lab):
    for number in range(3):
        lab.accepted(specimen=f"F2-0{number}")
    body = technician.get(TESTS, {"shoe": "fenrunner-2", "rig": "rig-1", "page_size": 2}).json()
    assert (body["count"], len(body["results"])) == (3, 2)
    assert body["next"] is not None
    assert technician.get(TESTS, {"specimen": "F2-01"}).json()["count"] == 1
    assert technician.get(TESTS, {"shoe": "other"}).json()["count"] == 0
    assert technician.get(TESTS, {"shoe": "other\x00"}).status_code == 400
    assert technician.get(TESTS, {"state": "lost"}).status_code == 400
    assert technician.get(TESTS, {"page": "99"}).status_code == 404


def test_list_takes_the_same_queries_however_long(technician, lab, django_assert_max_num_queries):
    for number in range(4):
        lab.accepted(specimen=f"F2-0{number}")
    with django_assert_max_num_queries(11):
        assert len(technician.get(TESTS).json()["results"]) == 4


def test_missing_test_is_404(technician, reviewer):
    assert technician.get(f"{TESTS}999999/").status_code == 404
    assert technician.get(f"{TESTS}{10**30}/").status_code == 404
    assert technician.get(f"{TESTS}999999/audit/").status_code == 404
    assert review(reviewer, 999999, decision="approve").status_code == 404


def test_reviewer_decides_once(reviewer, technician, lab):
    test = lab.accepted()
    assert review(technician, test.pk, decision="approve").status_code == 403
    response = review(reviewer, test.pk, decision="approve", reason="curves are clean")
    assert response.status_code == 200
    assert response.json()["state"] == "approved"
    again = review(reviewer, test.pk, decision="void", reason="")
    assert again.status_code == 400
    assert review(reviewer, test.pk, decision="approve").status_code == 409


def test_own_test_is_refused(reviewer, lab):
    test = lab.upload(bench_bytes(operator="reviewer")).tests.get()
    response = review(reviewer, test.pk, decision="approve")
    assert response.status_code == 403
    assert response.json()["code"] == "own_test"


@pytest.mark.parametrize(
    "body", [{}, {"decision": "praise"}, {"decision": "void", "reason": "a\x00b"}, {"decision": None}]
)
def test_decision_that_cannot_be_read_is_400(reviewer, lab, body):
    response = reviewer.post(f"{TESTS}{lab.accepted().pk}/review/", body, format="json")
    assert response.status_code == 400
    assert response.json()["fields"]


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'"x"', b"null"])
def test_body_that_is_no_object_is_400(reviewer, lab, content):
    pk = lab.accepted().pk
    response = reviewer.generic("POST", f"{TESTS}{pk}/review/", content, content_type="application/json")
    assert response.status_code == 400


def test_test_on_record_alone_is_marked_and_not_published(reviewer, technician, lab):
    held = send(technician, bench_bytes(curve_rows([(5.1, 5.9)] * 3), conditioned="12 h")).json()["held"][0]
    assert review(reviewer, held["test"], decision="release", reason="warm room").json()["outside_protocol"]
    response = reviewer.post("/api/lab/shoes/fenrunner-2/publish/", {"reason": "first"}, format="json")
    assert response.status_code == 409
    assert any("on record outside the protocol" in reason for reason in response.json()["reasons"])


def test_published_card_is_answered_and_seen_in_the_catalogue(reviewer, lab, client):
    lab.approved(specimen="F2-01")
    lab.approved(specimen="F2-02", torque_15=5.2)
    response = reviewer.post("/api/lab/shoes/fenrunner-2/publish/", {"reason": "first tests"}, format="json")
    body = response.json()
    assert response.status_code == 200
    assert body.keys() == serializers.LabCard().fields.keys()
    assert body["specimens"] == 2
    public = client.get("/api/catalogue/shoes/fenrunner-2/").json()
    assert public["scores"]["stability"]["value"] == pytest.approx(body["scores"]["stability"]["value"])


def test_inch_pound_curve_file_goes_to_the_public_card(reviewer, technician, client):
    # 45 of 80 in·lbf and (10 - 5.9) of 7 mm: 0.54 * 56.25 + 0.46 * 58.571.
    pounds, inch = 5 / 4.4482216152605, 5.9 / 25.4
    rows = ["torsion,1,loading,0,0", "torsion,1,loading,15,45", f"compression,1,loading,0,{pounds!r}"]
    rows += [f"compression,1,loading,{inch!r},100"]
    data = bench_bytes(
        rows,
        conditioned="52 h",
        temperature="72.7 degF",
        heel_clamp="101 lbf",
        forefoot_clamp="39.5 lbf",
        torsion_units="deg, in*lbf",
        compression_units="in, lbf",
    )
    pk = send(technician, data).json()["accepted"][0]["test"]
    assert review(reviewer, pk, decision="approve").status_code == 200
    reviewer.post("/api/lab/shoes/fenrunner-2/publish/", {"reason": "first specimen"}, format="json")
    public = client.get("/api/catalogue/shoes/fenrunner-2/").json()
    assert round(public["scores"]["stability"]["value"], 1) == 57.3
    assert public["band"]["order"] == 2
    assert public["band"]["provisional"]


def test_publishing_needs_a_reason_and_a_shoe(reviewer, lab):
    address = "/api/lab/shoes/{}/publish/"
    assert reviewer.post(address.format("fenrunner-2"), {}, format="json").status_code == 400
    assert reviewer.post(address.format("no-such"), {"reason": "x"}, format="json").status_code == 404
    assert reviewer.post(address.format("fenrunner-2"), {"reason": " "}, format="json").status_code == 400


def test_audit_of_a_test_shows_before_and_after(technician, reviewer, lab):
    test = lab.accepted()
    services.bench_test_void(actor=lab.reviewer, test=test, reason="clamp slipped")
    body = technician.get(f"{TESTS}{test.pk}/audit/").json()
    assert body["count"] == 2
    newest = body["results"][0]
    assert newest.keys() == serializers.LabAuditEntry().fields.keys()
    assert (newest["actor"], newest["reason"], newest["before"]["state"]) == ("reviewer", "clamp slipped", "accepted")
    assert newest["previous_hash"] == body["results"][1]["hash"]


def test_readings_file_marks_cushioning_estimated(technician):
    rows = [READINGS_ROW.format(number, 5.1, 5.9) for number in (1, 2, 3)]
    pk = send(technician, readings_bytes(rows)).json()["accepted"][0]["test"]
    body = technician.get(f"{TESTS}{pk}/").json()
    assert body["scores"]["cushioning"]["estimated"]
    assert not body["scores"]["midfoot"]["estimated"]
    assert body["energy_return"] is None


def test_schema_builds_without_warnings(client, capsys):
    response = client.get("/api/schema/", HTTP_ACCEPT="application/json")
    paths = json.loads(response.content)["paths"]
    assert "/api/lab/uploads/" in paths
    ours = [line for line in capsys.readouterr().err.splitlines() if "labtests" in line and "authenticat" not in line]
    assert ours == []
