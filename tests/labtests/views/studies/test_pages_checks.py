"""Pages of check shoes: the chart, alarms and their clearing, the check shoe of a rig, and their queries."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from labtests import services
from labtests.models import CheckDuty, Rig, Specimen
from tests.labtests.views.lab_pages import page, queries_of, text_of
from tests.labtests.views.studies.measured_tests import measured, moment
from tests.shared import shared

TORQUES = (5.10, 5.13, 5.08, 5.11, 5.07, 5.12, 5.09, 5.13, 5.10, 5.08, 5.11, 5.09)


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@pytest.fixture
def reviewer(lab, client):
    client.force_login(lab.reviewer)
    return client


@shared
def charted(lab):
    for day, torque in enumerate(TORQUES):
        measured(lab, "CHK-1", torque, moment(day), deflection=5.9 + 0.01 * (-1) ** day)
    services.check_shoe_designate(
        actor=lab.technician,
        rig=lab.rig,
        specimen=Specimen.objects.get(code="CHK-1"),
        since=dt.date(2026, 2, 1),
        reason="dense foam",
    )
    return lab


def test_chart_is_drawn_with_limits_and_reported_in_a_table(technician, charted):
    text = page(technician, "check-detail", "rig-1")
    for words in ("Check shoe CHK-1", "in control", "Trial limits from", "upper limit", "<circle", "12, test"):
        assert words in text, words
    # What the chart could have found, and how often it is wrong about a rig that is in order.
    for words in (
        "would be noticed within 13 checks in 8 of 10 cases",
        "about 12 false alarms in a year of 250 checks",
    ):
        assert words in text, words
    assert "5.130\xa0N·m" in technician.get(reverse("labtests:check-detail", args=["rig-1"])).content.decode()


def test_chart_in_imperial_units(technician, charted):
    technician.cookies["units"] = "imperial"
    assert "in·lbf" in page(technician, "check-detail", "rig-1")


def test_alarm_is_shown_by_shape_and_in_words_and_cleared_on_the_rig_page(reviewer, charted):
    measured(charted, "F2-01", 5.1, moment(12, 9))
    measured(charted, "CHK-1", 5.2, moment(13))
    text = page(reviewer, "check-detail", "rig-1")
    for words in (
        "Publishing from this rig is stopped",
        "In doubt: 1 test",
        "out of control",
        "dot--out",
        "one point more than 3σ",
    ):
        assert words in text, words
    answer = reviewer.post(reverse("labtests:rig-clear", args=["rig-1"]), {"reason": "refitted the arm"}, follow=True)
    assert "cleared for publishing" in text_of(answer)
    text = page(reviewer, "check-detail", "rig-1")
    assert "Cleared by reviewer" in text
    assert "dot--off" in text


def test_rig_that_stays_out_of_control_says_so_when_cleared(reviewer, charted):
    measured(charted, "CHK-1", 6.2, moment(13))
    measured(charted, "CHK-1", 5.35, moment(14))
    answer = reviewer.post(reverse("labtests:rig-clear", args=["rig-1"]), {"reason": "refitted"}, follow=True)
    assert "stays stopped" in text_of(answer)


def test_lab_day_without_a_check_is_remembered(technician, charted):
    measured(charted, "F2-01", 5.1, "2026-03-02T08:00:00+00:00")
    measured(charted, "F2-02", 5.1, "2026-03-03T08:00:00+00:00")
    measured(charted, "CHK-1", 5.1, "2026-03-03T08:30:00+00:00")
    from django.utils import timezone

    day = (timezone.localdate() - dt.date(2026, 3, 2)).days
    text = page(technician, "rig-detail", "rig-1")
    assert "Not checked today: test CHK-1" in text
    if day <= 30:
        assert "without a check on 2 March 2026." in text


def test_rig_without_a_check_shoe_says_so(technician, lab):
    assert "No check shoe is on duty" in page(technician, "rig-detail", "rig-1")
    text = page(technician, "check-detail", "rig-1")
    assert "No check shoe has ever been designated" in text
    assert "Designate the check shoe" in text


def test_check_shoe_is_designated_and_retired_on_the_page(technician, lab, client):
    lab.accepted(specimen="F2-01")
    address = reverse("labtests:check-designate", args=["rig-1"])
    assert technician.post(address, {}).status_code == 400
    unknown = technician.post(address, {"specimen": "nope", "since": "2026-03-01", "reason": "x"})
    assert unknown.status_code == 400
    assert "There is no specimen" in text_of(unknown)
    late = technician.post(address, {"specimen": "F2-01", "since": "2999-03-01", "reason": "x"})
    assert "must not be in the future" in text_of(late)
    good = {"specimen": "F2-01", "since": "2026-03-01", "reason": "steady"}
    assert technician.post(address, good).status_code == 302
    again = technician.post(address, good)
    assert again.status_code == 400
    retire = reverse("labtests:check-retire", args=["rig-1"])
    assert technician.post(retire, {"reason": "torn"}).status_code == 403
    client.force_login(lab.reviewer)
    assert client.post(retire, {"reason": ""}).status_code == 400
    assert client.post(retire, {"reason": "torn"}).status_code == 302
    assert "has no check shoe on duty" in text_of(client.post(retire, {"reason": "torn"}, follow=True))
    text = page(client, "check-detail", "rig-1")
    assert "Retired" in text
    assert "torn" in text
    assert f"?duty={CheckDuty.objects.get().pk}" in text


def test_checks_page_gathers_everything(technician, charted):
    text = page(technician, "check-home")
    for words in ("Can the bench be trusted?", "CHK-1", "None has been planned yet", "Compare the rigs", "Wear series"):
        assert words in text, words


def test_pages_take_the_same_queries_however_much_there_is(technician, charted):
    before = queries_of(technician, "check-detail", "rig-1"), queries_of(technician, "check-home")
    for day in range(20, 26):
        measured(charted, "CHK-1", 5.1 + 0.01 * (-1) ** day, moment(day))
        measured(charted, f"F2-{day}", 5.1, moment(day, 9))
    for number in (2, 3, 4):
        services.rig_create(actor=charted.reviewer, code=f"rig-{number}")
    assert Rig.objects.count() == 4
    assert (queries_of(technician, "check-detail", "rig-1"), queries_of(technician, "check-home")) == before


def test_check_of_nothing_is_404(technician):
    assert technician.get(reverse("labtests:check-detail", args=["no-such"])).status_code == 404
