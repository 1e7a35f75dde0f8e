"""Rigs against what they state: on the comparison's page, the overview, beside two tests, and in the API."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from labtests import services
from labtests.models import Result
from labtests.selectors.studies.agreement import agreements_of, disagreements
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.labtests.conftest import CALIBRATIONS

DISAGREE = "the rigs disagree more than their stated uncertainties allow"
DAY = dt.date(2026, 3, 6)


@pytest.fixture(autouse=True)
def _today(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: dt.datetime(2026, 3, 6, 12, tzinfo=dt.UTC))


def text_of(client, address, **query):
    response = client.get(address, query)
    assert response.status_code == 200
    return " ".join(response.content.decode().split())


@pytest.fixture
def two_rigs(lab):
    """A second rig, calibrated like the first."""
    rig = services.rig_create(actor=lab.reviewer, code="rig-2")
    for quantity, (u, resolution) in CALIBRATIONS.items():
        calibration = services.calibration_record(
            actor=lab.technician,
            rig=rig,
            quantity=quantity,
            certificate=f"D-{quantity}",
            calibrated_on=dt.date(2025, 6, 1),
            due_on=dt.date(2026, 12, 31),
            standard_uncertainty=u,
            resolution=resolution,
        )
        services.calibration_sign(actor=lab.reviewer, calibration=calibration)
    return lab


def measured(lab, rig, torque, performed="2026-03-04T10:15:00+00:00", **header):
    rows = curve_rows([(torque + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)])
    data = bench_bytes(rows, specimen="P-1", rig=rig, performed=performed, **header)
    return lab.upload(data, name=f"{rig}-{torque}.csv").tests.get()


def test_rigs_that_differ_too_much_are_named_everywhere(two_rigs, client):
    first, second = measured(two_rigs, "rig-1", 5.10), measured(two_rigs, "rig-2", 5.25, "2026-03-05T10:15:00+00:00")
    pair = agreements_of(["P-1"], "torque")["P-1"].pairs[0]
    assert (pair.first, pair.second, pair.n_first, pair.n_second) == ("rig-1", "rig-2", 1, 1)
    assert pair.difference == pytest.approx(0.15, abs=0.002)
    assert pair.en == pytest.approx(pair.difference / pair.expanded)
    assert pair.en > 1.0
    client.force_login(two_rigs.technician)
    text = text_of(client, reverse("labtests:precision-detail"))
    assert DISAGREE in text
    assert "rig-2 less rig-1" in text
    # Deflections agree; the overview names torque alone, and where.
    overview = text_of(client, reverse("labtests:home"))
    assert "rig-1 and rig-2 disagree by more than their stated uncertainties allow: torque of" in overview
    assert "heel deflection of specimen" not in overview
    assert "The rigs disagree" in text_of(
        client, "/lab/shoes/fenrunner-2/compare/", first=str(first.pk), second=str(second.pk)
    )
    assert [key for key, _ in disagreements(DAY)] == ["torque"]


def test_rigs_that_agree_say_what_would_have_shown(two_rigs, client):
    first = measured(two_rigs, "rig-1", 5.10)
    second = measured(two_rigs, "rig-2", 5.11, "2026-03-05T10:15:00+00:00")
    client.force_login(two_rigs.technician)
    text = text_of(client, reverse("labtests:precision-detail"))
    assert DISAGREE not in text.replace("How", "")
    assert "within what they state" in text
    assert "would show from" in text
    assert "disagree" not in text_of(client, reverse("labtests:home"))
    compared = text_of(client, "/lab/shoes/fenrunner-2/compare/", first=str(first.pk), second=str(second.pk))
    assert "The rigs agree within what they state" in compared
    assert "would show in 8 of 10 such comparisons" in compared


def test_tests_months_apart_are_no_comparison_of_rigs(two_rigs):
    measured(two_rigs, "rig-1", 5.10, "2025-09-04T10:15:00+00:00")
    measured(two_rigs, "rig-2", 5.40, "2026-03-05T10:15:00+00:00")
    assert agreements_of(["P-1"], "torque")["P-1"].pairs == ()
    assert disagreements(DAY) == []


def test_a_test_of_unknown_uncertainty_is_left_out(two_rigs):
    measured(two_rigs, "rig-1", 5.10)
    test = measured(two_rigs, "rig-2", 5.40, "2026-03-05T10:15:00+00:00")
    Result.objects.filter(test=test).update(budgets={})
    assert agreements_of(["P-1"], "torque")["P-1"].pairs == ()


def test_what_is_assumed_of_the_foam_moves_both_rigs_alike(two_rigs):
    measured(two_rigs, "rig-1", 5.10)
    measured(two_rigs, "rig-2", 5.25, "2026-03-05T10:15:00+00:00")
    plain = agreements_of(["P-1"], "torque")["P-1"].pairs[0].expanded
    for result in Result.objects.all():
        sources = result.budgets["sources"]
        for name, value in (
            ("source", "temperature, assumed"),
            ("type", "B"),
            ("u", 9.0),
            ("unit", "°C"),
            ("df", None),
        ):
            sources[name].append(value)
        if "calibration" in sources:
            sources["calibration"].append(None)
        for score in result.budgets["scores"].values():
            score["sensitivities"].append(1.0)
        Result.objects.filter(pk=result.pk).update(budgets=result.budgets)
    assert agreements_of(["P-1"], "torque")["P-1"].pairs[0].expanded == pytest.approx(plain)


def test_api_has_the_numbers(two_rigs, client):
    first, second = measured(two_rigs, "rig-1", 5.10), measured(two_rigs, "rig-2", 5.25, "2026-03-05T10:15:00+00:00")
    client.force_login(two_rigs.technician)
    level = client.get("/api/lab/precision/", {"quantity": "torque"}).json()["levels"][0]
    pair = level["agreement"][0]
    assert (pair["first"], pair["second"], pair["beyond"]) == ("rig-1", "rig-2", True)
    assert pair["en"] == pytest.approx(pair["difference"] / pair["expanded_uncertainty"])
    assert pair["could_find"] > pair["expanded_uncertainty"]
    address = "/api/lab/shoes/fenrunner-2/compare/"
    body = client.get(address, {"first": first.pk, "second": second.pk}).json()
    assert body["readings"]["torque_15_nm"]["en"] > 1.0
    assert body["scores"]["rearfoot"]["en"] == pytest.approx(0.0, abs=0.2)


def test_overview_takes_the_same_queries_for_more_specimens(two_rigs, client):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.force_login(two_rigs.technician)
    measured(two_rigs, "rig-1", 5.10)
    measured(two_rigs, "rig-2", 5.25, "2026-03-05T10:15:00+00:00")
    client.get(reverse("labtests:home"))
    with CaptureQueriesContext(connection) as before:
        client.get(reverse("labtests:home"))
    for n in range(3):
        rows = curve_rows([(5.1 + d, 5.9 + d) for d in (-0.02, 0.0, 0.02)])
        for rig in ("rig-1", "rig-2"):
            two_rigs.upload(bench_bytes(rows, specimen=f"Q-{n}", rig=rig), name=f"{n}-{rig}.csv")
    with CaptureQueriesContext(connection) as after:
        client.get(reverse("labtests:home"))
    assert len(after) == len(before)
