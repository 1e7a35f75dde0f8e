"""The lab's pages: the overview, lists, rigs, what is published of a shoe, and the trail."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from core.models import AuditEntry
from labtests import services
from labtests.models import Calibration
from tests.labtests.views.lab_pages import held, page, text_of


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@pytest.fixture
def reviewer(lab, client):
    client.force_login(lab.reviewer)
    return client


def test_overview_shows_what_waits_what_is_held_and_why(technician, lab):
    lab.accepted(specimen="F2-01")
    held(lab)
    lab.approved(specimen="F2-02")
    text = page(technician, "home")
    assert "F2-01, test" in text
    assert "midsole temperature is 30 °C; accepted: 21 to 25 °C" in text
    assert "1 approved test" in text
    assert "F2-02.csv" in text


def test_overview_shows_rigs_that_want_attention(technician, lab):
    Calibration.objects.filter(quantity="force").update(due_on=dt.date(2025, 12, 31))
    Calibration.objects.filter(quantity="angle").delete()
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="check shoe drifted")
    text = page(technician, "home")
    assert "out of date since 1 January 2026" in text
    assert "missing" in text
    assert "check shoe drifted" in text


def test_empty_lab_says_so(technician):
    text = page(technician, "home")
    assert "No test is waiting." in text
    assert "No test is held." in text


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("test-type-in", "Upload"),
        ("upload-list", "Upload"),
        ("rig-create", "Rigs"),
        ("conditioning-list", "Bench day"),
        ("chamber-list", "Bench day"),
    ],
)
def test_bar_marks_the_place_that_a_page_belongs_to(technician, lab, name, place):
    assert f'aria-current="true">{place}</a>' in page(technician, name)


def test_list_is_filtered(technician, lab):
    lab.accepted(specimen="F2-01")
    held(lab)
    assert "F2-07" not in page(technician, "test-list", state="accepted")
    assert "F2-01" not in page(technician, "test-list", specimen="F2-07")
    assert "No test matches" in page(technician, "test-list", rig="rig-9")


@pytest.mark.parametrize("query", [{"state": "lost"}, {"specimen": "a\x00"}, {"shoe": "a b"}])
def test_filter_that_cannot_be_read_is_explained(technician, query):
    response = technician.get(reverse("labtests:test-list"), query)
    assert response.status_code == 400
    assert 'aria-invalid="true"' in text_of(response)


@pytest.mark.parametrize(
    ("name", "query"),
    [
        ("test-list", {"state": "lost"}),
        ("conditioning-list", {"state": "lost"}),
        ("specimen-list", {"state": "lost"}),
        ("retest-list", {"why": "lost"}),
        ("audit-list", {"until": "soon"}),
    ],
)
def test_filter_that_cannot_be_read_is_the_only_thing_said(reviewer, name, query):
    response = reviewer.get(reverse(f"labtests:{name}"), query)
    assert response.status_code == 400
    text = text_of(response)
    assert "These filters could not be read" in text
    assert "<h2>No " not in text
    assert 'class="empty' not in text


@pytest.mark.parametrize("number", ["0", "99", "x", "-1"])
def test_page_number_out_of_range_is_the_nearest_page(technician, lab, number):
    lab.accepted()
    assert "F2-01" in page(technician, "test-list", page=number)


def test_shoe_is_published_with_its_parts_and_cautions(reviewer, lab):
    lab.approved(specimen="F2-01")
    lab.approved(specimen="F2-02", torque_15=5.2)
    text = page(reviewer, "shoe-detail", "fenrunner-2")
    assert "The mean over 2 specimens" in text
    assert "What this cannot tell you" in text
    assert "new results" in page(reviewer, "shoe-list")
    answer = reviewer.post(
        reverse("labtests:shoe-publish", args=["fenrunner-2"]), {"reason": "first tests"}, follow=True
    )
    assert "is published: stability" in text_of(answer)
    listed = page(reviewer, "shoe-list", q="fen")
    assert '<span class="state state--good">published</span>' in listed
    assert "The catalogue shows every approved result" in page(reviewer, "home")


def test_shoe_that_may_not_be_published_says_why(reviewer, lab):
    lab.accepted()
    text = page(reviewer, "shoe-detail", "fenrunner-2")
    assert "It can’t be published yet" in text
    address = reverse("labtests:shoe-publish", args=["fenrunner-2"])
    assert reviewer.post(address, {"reason": "x"}).status_code == 400
    assert reviewer.post(address, {}).status_code == 400


def test_one_specimen_is_said_to_be_provisional(reviewer, lab):
    lab.approved()
    assert "provisional" in page(reviewer, "shoe-detail", "fenrunner-2")


def test_calibration_is_recorded_on_the_page(technician, lab):
    form = {
        "quantity": "force",
        "certificate": "C-77",
        "calibrated_on": "2026-02-01",
        "due_on": "2027-02-01",
        "standard_uncertainty": "0.4",
        "resolution": "0.1",
    }
    address = reverse("labtests:calibration-create", args=["rig-1"])
    assert technician.post(address, form).status_code == 302
    assert "C-77" in page(technician, "rig-detail", "rig-1")
    again = technician.post(address, form)
    assert again.status_code == 400
    assert "already has a calibration of that day" in text_of(again)
    assert technician.post(address, {**form, "resolution": "fine"}).status_code == 400


def test_rig_is_set_up_on_the_page(technician, lab):
    address = reverse("labtests:rig-create")
    assert technician.get(address).status_code == 200
    assert technician.post(address, {"code": "rig-1"}).status_code == 400
    assert technician.post(address, {"code": "a b"}).status_code == 400
    assert technician.post(address, {"code": "rig-2", "name": "Rig two"}).status_code == 302
    assert "Rig two" in page(technician, "rig-list")
    assert "None yet" in page(technician, "rig-detail", "rig-2")


def test_rig_is_stopped_by_a_technician_and_cleared_by_a_reviewer(technician, lab, client):
    stop, clear = (reverse(f"labtests:rig-{verb}", args=["rig-1"]) for verb in ("stop", "clear"))
    assert technician.post(stop, {"reason": ""}).status_code == 400
    assert technician.post(stop, {"reason": "drift"}).status_code == 302
    assert technician.post(stop, {"reason": "drift"}).status_code == 400
    assert technician.post(clear, {"reason": "repaired"}).status_code == 403
    assert "Clear it" not in page(technician, "rig-detail", "rig-1")
    client.force_login(lab.reviewer)
    assert "Clear it" in page(client, "rig-detail", "rig-1")
    assert client.post(clear, {"reason": "repaired"}).status_code == 302


def test_trail_is_filtered_by_who_what_when_and_record(reviewer, lab):
    test = lab.approved()
    assert "approved test" in page(reviewer, "audit-list", who="reviewer", action="labtests.test.approved")
    assert "No entry matches" in page(reviewer, "audit-list", until="2020-01-01")
    by_record = page(reviewer, "audit-list", record="labtests.benchtest", number=test.pk)
    assert "2 entries" in by_record
    bad = reviewer.get(reverse("labtests:audit-list"), {"since": "yesterday"})
    assert bad.status_code == 400


def test_entry_shows_before_and_after(reviewer, lab):
    test = services.bench_test_void(actor=lab.reviewer, test=lab.accepted(), reason="clamp slipped")
    newest, oldest = AuditEntry.objects.filter(object_type="labtests.benchtest", object_id=test.pk)
    text = page(reviewer, "audit-detail", newest.pk)
    assert "clamp slipped" in text
    assert "What changed" in text
    assert ">accepted</td>" in text
    assert "What was stored" in page(reviewer, "audit-detail", oldest.pk)


def test_entries_on_people_are_not_the_labs_to_read(reviewer, lab):
    from core.accounts.provisioning import user_create

    user_create(actor=None, username="somebody", password="long-enough-word-7")
    entry = AuditEntry.objects.filter(action="core.user.created").first()
    assert "somebody" not in page(reviewer, "audit-list")
    assert reviewer.get(reverse("labtests:audit-detail", args=[entry.pk])).status_code == 404


@pytest.mark.parametrize(
    ("name", "args"),
    [("test-detail", [999]), ("upload-detail", [999]), ("rig-detail", ["no-such"]), ("shoe-detail", ["no-such"])],
)
def test_what_is_not_there_is_404(reviewer, name, args):
    assert reviewer.get(reverse(f"labtests:{name}", args=args)).status_code == 404


@pytest.mark.parametrize(
    ("name", "args", "most"),
    [
        ("home", [], 16),
        ("test-list", [], 9),
        ("upload-list", [], 7),
        ("shoe-list", [], 7),
        ("rig-list", [], 7),
        ("audit-list", [], 7),
    ],
)
def test_lists_take_the_same_queries_however_long(reviewer, lab, django_assert_max_num_queries, name, args, most):
    for number in range(5):
        lab.approved(specimen=f"A-{number}")
        lab.accepted(specimen=f"B-{number}")
        held(lab, specimen=f"C-{number}")
    with django_assert_max_num_queries(most):
        page(reviewer, name, *args)
