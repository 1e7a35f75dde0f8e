"""The API of checks, studies, comparisons and wear: what it says, and every way it may be refused."""

from __future__ import annotations

import datetime as dt

import pytest

from labtests import services
from labtests.models import GaugeStudy, Specimen
from tests.labtests.bench_text import READINGS_ROW, bench_bytes, curve_rows, readings_bytes
from tests.shared import shared

CHECK = "/api/lab/rigs/rig-1/check/"
STUDIES = "/api/lab/studies/"
TORQUES = (5.10, 5.13, 5.08, 5.11, 5.07, 5.12, 5.09, 5.13, 5.10, 5.08)


@pytest.fixture
def technician(lab, api_for):
    return api_for(lab.technician)


@pytest.fixture
def reviewer(lab, api_for):
    return api_for(lab.reviewer)


def measured(lab, specimen, torque, day, *, deflection=5.9, rig="rig-1"):
    moment = (dt.datetime(2026, 2, 1, 8, tzinfo=dt.UTC) + dt.timedelta(days=day)).isoformat()
    template = READINGS_ROW.replace("F2-01", specimen).replace("2026-03-04T10:15:00+00:00", moment)
    row = template.replace("rig-1", rig).format(1, torque, deflection)
    return lab.upload(readings_bytes([row])).tests.get()


@shared
def checked(lab):
    for day, torque in enumerate(TORQUES):
        measured(lab, "CHK-1", torque, day, deflection=5.9 + 0.01 * (-1) ** day)
    return lab


def designate(client, **change):
    body = {"specimen": "CHK-1", "since": "2026-02-01", "reason": "dense foam"}
    return client.post(CHECK, {**body, **change}, format="json")


def test_check_shoe_is_designated_charted_stopped_cleared_and_retired(technician, reviewer, checked):
    assert technician.get(CHECK).json()["check_shoe"] is None
    made = designate(technician)
    assert made.status_code == 201
    body = made.json()
    assert body["check_shoe"]["specimen"] == "CHK-1"
    assert [chart["quantity"] for chart in body["charts"]] == ["torque_15_nm", "deflection_mm"]
    assert body["charts"][0]["in_control"] is True
    assert body["charts"][0]["limits"]["n"] == len(body["charts"][0]["points"]) == 10
    assert designate(technician).status_code == 409
    measured(checked, "CHK-1", 5.2, 12)
    body = technician.get(CHECK).json()
    assert body["stopped"] is True
    assert body["in_doubt_since"] == "2026-02-10T08:00:00+00:00"
    assert body["charts"][0]["points"][-1]["rules"] == ["beyond_limits"]
    assert body["alarms"][0]["cleared_at"] is None
    clear = "/api/lab/rigs/rig-1/clear/"
    assert technician.post(clear, {"reason": "x"}, format="json").status_code == 403
    assert reviewer.post(clear, {}, format="json").status_code == 400
    cleared = reviewer.post(clear, {"reason": "arm refitted"}, format="json").json()
    assert cleared["stopped"] is False
    assert cleared["alarms"][0]["cleared_because"] == "arm refitted"
    assert cleared["charts"][0]["points"][-1]["cleared"] is True
    assert reviewer.post(clear, {"reason": "again"}, format="json").status_code == 409
    retire = f"{CHECK}retire/"
    assert technician.post(retire, {"reason": "x"}, format="json").status_code == 403
    assert reviewer.post(retire, {"reason": "torn"}, format="json").json()["check_shoe"] is None
    assert reviewer.post(retire, {"reason": "torn"}, format="json").status_code == 409


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"specimen": "nope"}, "specimen"),
        ({"since": "soon"}, "since"),
        ({"since": "2999-01-01"}, "since"),
        ({"reason": ""}, "reason"),
        ({"reason": "x" * 2001}, "reason"),
        ({"specimen": None}, "specimen"),
    ],
)
def test_designation_that_cannot_be_is_400(technician, checked, change, field):
    response = designate(technician, **change)
    assert response.status_code == 400
    assert field in response.json()["fields"]


def plan(**change):
    body = {
        "title": "Spring study",
        "rig": "rig-1",
        "specimens": ["G-1", "G-2"],
        "operators": ["technician", "reviewer"],
        "trials": 2,
        "begins_on": "2026-02-01",
        "reason": "before the season",
    }
    return {**body, **change}


def test_study_is_planned_filled_and_analysed(technician, lab):
    lab.accepted(specimen="G-1", performed="2025-06-02T08:00:00+00:00")
    lab.accepted(specimen="G-2", performed="2025-06-02T08:00:00+00:00")
    made = technician.post(STUDIES, plan(), format="json")
    assert made.status_code == 201, made.content
    study = made.json()
    assert (study["wanted"], study["found"], study["complete"], study["result"]) == (8, 0, False, None)
    number = 0
    for specimen, torque in (("G-1", 4.0), ("G-2", 5.0)):
        for operator in ("technician", "reviewer"):
            for trial in (1, 2):
                number += 1
                data = bench_bytes(
                    curve_rows([(torque + 0.01 * trial + 0.002 * number + d, 5.9) for d in (-0.01, 0, 0.01)]),
                    specimen=specimen,
                    operator=operator,
                    performed=f"2026-02-{number:02d}T08:00:00+00:00",
                )
                lab.upload(data)
    body = technician.get(f"{STUDIES}{study['id']}/").json()
    assert body["complete"] is True
    assert body["result"]["n"] == 8
    assert body["result"]["distinct_categories"] >= 5
    assert {row["source"] for row in body["result"]["components"]} >= {"grr", "part", "total"}
    listed = technician.get(STUDIES).json()
    assert (listed["count"], listed["results"][0]["state"]) == (1, "open")
    other = technician.get(f"{STUDIES}{study['id']}/", {"quantity": "deflection"}).json()
    assert other["result"] is None
    assert "must not all be equal" in other["problem"]


@pytest.mark.parametrize(
    ("change", "status"),
    [
        ({"specimens": ["G-1"]}, 400),
        ({"specimens": ["G-1", "X"]}, 400),
        ({"operators": ["technician", "fitter-a"]}, 400),
        ({"trials": 1}, 400),
        ({"trials": 10**9}, 400),
        ({"rig": "no-such"}, 404),
        ({"title": ""}, 400),
        ({"specimens": "G-1"}, 400),
        ({"begins_on": None}, 400),
    ],
)
def test_plan_that_cannot_be_is_refused(technician, lab, change, status):
    for specimen in ("G-1", "G-2"):
        lab.accepted(specimen=specimen)
    assert technician.post(STUDIES, plan(**change), format="json").status_code == status
    assert not GaugeStudy.objects.exists()


@pytest.mark.parametrize("address", [STUDIES + "999/", "/api/lab/rigs/no/check/", "/api/lab/specimens/no/wear/"])
def test_what_is_not_there_is_404(technician, address):
    assert technician.get(address).status_code == 404


def test_rigs_are_compared(technician, lab):
    services.rig_create(actor=lab.reviewer, code="rig-2")
    for day, (rig, torque) in enumerate([("rig-1", 4.0), ("rig-1", 4.02), ("rig-2", 4.1), ("rig-2", 4.13)]):
        test = measured(lab, "P-1", torque, day, rig=rig)
        type(test).objects.filter(pk=test.pk).update(state="accepted", reasons=[])
    body = technician.get("/api/lab/precision/").json()
    level = body["levels"][0]
    assert (body["quantity"], level["specimen"], level["precision"]["n"]) == ("torque", "P-1", 4)
    assert level["precision"]["reproducibility_sd"] > level["precision"]["repeatability_sd"]
    assert [rig["rig"] for rig in level["precision"]["rigs"]] == ["rig-1", "rig-2"]
    assert level["precision"]["grubbs"] is None
    none = technician.get("/api/lab/precision/", {"ends_on": "2020-01-01"}).json()["levels"][0]
    assert none["precision"] is None
    assert "must be ≥ 2" in none["problem"]


@pytest.mark.parametrize("query", [{"specimen": "X"}, {"quantity": "colour"}, {"begins_on": "soon"}])
def test_comparison_that_cannot_be_read_is_400(technician, query):
    response = technician.get("/api/lab/precision/", query)
    assert response.status_code == 400
    assert next(iter(query)) in response.json()["fields"]


def test_wear_series_is_said_with_its_trend(technician, lab):
    for n, km in enumerate((0, 150, 300, 450)):
        torque = 4.9 - 0.0012 * km + 0.004 * (-1) ** n
        data = bench_bytes(
            curve_rows([(torque, 6.0 + km / 900)] * 3),
            specimen="W-1",
            performed=f"2026-02-{n + 1:02d}T08:00:00+00:00",
            worn=f"{km} km",
        )
        lab.upload(data)
    body = technician.get("/api/lab/specimens/W-1/wear/").json()
    assert [point["worn_km"] for point in body["points"]] == [0, 150, 300, 450]
    assert body["trend"]["slope_per_km"] < 0
    assert body["trend"]["leaves_band"]["at_km"] is not None
    stiff = technician.get("/api/lab/specimens/W-1/wear/", {"quantity": "heel_stiffness"}).json()
    assert stiff["trend"]["leaves_band"] is None
    assert technician.get("/api/lab/specimens/W-1/wear/", {"quantity": "x"}).status_code == 400
    measured(lab, "W-2", 5.1, 1)
    assert technician.get("/api/lab/specimens/W-2/wear/").json()["trend"] is None
    assert Specimen.objects.count() == 2


def test_stores_see_nothing_of_it(cast, api_for):
    for person in (cast.fitter_a, cast.manager_a):
        for address in (CHECK, STUDIES, "/api/lab/precision/", "/api/lab/specimens/x/wear/"):
            assert api_for(person).get(address).status_code == 403
    assert designate(api_for(cast.office)).status_code == 403
