"""The bench day's page, the log's pages and the rigs' warnings, as technician and reviewer see them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from labtests import services
from labtests.models import Calibration, ConditioningEntry, Specimen
from labtests.services import SpecimenGiven
from tests.labtests.bench_text import bench_bytes, curve_rows

NOW = dt.datetime(2026, 3, 6, 12, 0, tzinfo=dt.UTC)
HOUR = dt.timedelta(hours=1)
BENCH = "/lab/bench/"


@pytest.fixture(autouse=True)
def _noon(monkeypatch):
    monkeypatch.setattr(timezone, "now", lambda: NOW)


@pytest.fixture
def chamber(lab):
    return services.chamber_create(actor=lab.reviewer, code="C-1", name="Walk-in room")


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


def text_of(response):
    return " ".join(response.content.decode().split())


def put_in(lab, chamber, code, hours, **given):
    in_at = NOW - hours * HOUR
    specimen = SpecimenGiven(code, "fenrunner-2", Decimal("42.5"), "left")
    given = {"in_at": in_at, "at": in_at, **given}
    return services.specimen_in(actor=lab.technician, chamber=chamber, specimen=specimen, **given)


def day(client):
    response = client.get(BENCH)
    assert response.status_code == 200
    return text_of(response)


def test_empty_lab_shows_how_to_begin(technician):
    text = day(technician)
    assert "No chamber is set up yet" in text
    assert "No test is held." in text


def test_queue_shows_what_is_conditioning_and_when_it_is_ready(technician, lab, chamber):
    put_in(lab, chamber, "F2-01", 47.5)
    text = day(technician)
    assert "47.5\xa0h".replace("\xa0", " ") in text.replace("\xa0", " ")
    assert "today, 12:30 (in 30 min)" in text.replace("\xa0", " ")
    assert "conditioning</span>" in text


def test_queue_shows_what_is_ready(technician, lab, chamber):
    put_in(lab, chamber, "F2-01", 48)
    text = day(technician)
    assert ">ready</span>" in text
    assert "today, 12:00" in text


def test_queue_counts_hours_over_two_chambers(technician, lab, chamber):
    other = services.chamber_create(actor=lab.reviewer, code="C-2")
    first = put_in(lab, chamber, "F2-01", 50)
    services.specimen_out(actor=lab.technician, entry=first, out_at=NOW - 10 * HOUR, at=NOW - 10 * HOUR)
    put_in(lab, other, "F2-01", 9.5)
    assert "49.5 h" in day(technician).replace("\xa0", " ")


def test_specimen_out_is_to_be_tested_within_the_hour(technician, lab, chamber):
    entry = put_in(lab, chamber, "F2-01", 50)
    services.specimen_out(actor=lab.technician, entry=entry, out_at=NOW - HOUR / 2, at=NOW)
    text = day(technician)
    assert "test it now" in text
    assert "today, 12:30" in text


def test_specimen_out_for_longer_has_to_be_conditioned_again(technician, lab, chamber):
    entry = put_in(lab, chamber, "F2-01", 60)
    services.specimen_out(actor=lab.technician, entry=entry, out_at=NOW - 3 * HOUR, at=NOW)
    assert "too late: condition it again" in day(technician)


def test_specimen_that_was_tested_or_put_in_again_does_not_wait_on_the_bench(technician, lab, chamber):
    for code in ("F2-01", "F2-02"):
        entry = put_in(lab, chamber, code, 51)
        services.specimen_out(actor=lab.technician, entry=entry, out_at=NOW - HOUR, at=NOW)
    performed = (NOW - HOUR / 2).isoformat()
    lab.upload(bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen="F2-01", performed=performed, conditioned="50 h"))
    put_in(lab, chamber, "F2-02", 0.5)
    assert "Nothing was taken out and left untested" in day(technician)


def test_specimen_still_in_the_log_though_tested_is_marked(technician, lab, chamber):
    put_in(lab, chamber, "F2-01", 60)
    performed = (NOW - HOUR).isoformat()
    test = lab.accepted(specimen="F2-01", performed=performed, conditioned="59 h")
    assert f'tested</span> <a href="/lab/tests/{test.pk}/">' in day(technician)


def test_held_tests_are_listed_with_their_reasons(technician, lab, chamber):
    put_in(lab, chamber, "F2-01", 80)
    lab.accepted(specimen="F2-01", conditioned="70 h")
    text = day(technician)
    assert "the file claims 70.00 h" in text
    assert "?state=held" in text


def test_specimen_is_put_in_on_the_page_and_twice_is_once(technician, lab, chamber):
    form = {"specimen": "F2-01", "chamber": "C-1", "shoe": "fenrunner-2", "size": "42.5", "side": "left"}
    first = technician.post(reverse("labtests:specimen-in"), form, follow=True)
    assert "F2-01 has been in chamber C-1 since 12:00 on 6 March 2026." in text_of(first)
    again = technician.post(reverse("labtests:specimen-in"), form, follow=True)
    assert "nothing was recorded twice" in text_of(again)
    assert ConditioningEntry.objects.get().in_at == NOW


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"specimen": ""}, "Fill in “Specimen”."),
        ({"chamber": "C-9"}, "not one of the choices"),
        ({"chamber": "a\x00b"}, "characters that cannot be seen"),
        ({"shoe": ""}, "is not on record yet. Say which shoe, size and side it is"),
        ({"size": "42.3"}, "Sizes come in halves"),
        ({"size": "many"}, "Enter a number"),
        ({"in_at": "yesterday"}, "Enter a valid date/time"),
        ({"in_at": "2026-03-09T10:00"}, "is in the future"),
        ({"in_at": "0001-01-01T00:00"}, "The year 1 makes no sense"),
        ({"note": "a\nb\x07"}, "without line breaks or control characters"),
    ],
)
def test_what_cannot_be_put_in_is_explained_beside_its_field(technician, chamber, change, words):
    form = {"specimen": "F2-01", "chamber": "C-1", "shoe": "fenrunner-2", "size": "42.5", "side": "left"}
    response = technician.post(reverse("labtests:specimen-in"), {**form, **change})
    assert response.status_code == 400
    assert words in text_of(response)
    assert not ConditioningEntry.objects.exists()


def test_details_open_where_something_in_them_is_wrong(technician, chamber):
    response = technician.post(reverse("labtests:specimen-in"), {"specimen": "F2-09", "chamber": "C-1"})
    assert '<details class="lab-more" open>' in text_of(response)


def test_specimen_is_taken_out_with_one_press(technician, lab, chamber):
    entry = put_in(lab, chamber, "F2-01", 50)
    answer = technician.post(reverse("labtests:specimen-out", args=[entry.pk]), follow=True)
    assert "taken out of chamber C-1 after 2 d 2 h" in text_of(answer).replace("\xa0", " ")
    again = technician.post(reverse("labtests:specimen-out", args=[entry.pk]), follow=True)
    assert "nothing was recorded twice" in text_of(again)


def test_taking_out_at_a_time_that_cannot_be_is_explained(technician, lab, chamber):
    entry = put_in(lab, chamber, "F2-01", 50)
    address = reverse("labtests:specimen-out", args=[entry.pk])
    for given in ({"out_at": "2026-03-01T10:00"}, {"out_at": "soon"}, {"out_at": "2027-01-01T10:00"}):
        assert technician.post(address, given).status_code == 400
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="wrong shoe")
    refused = technician.post(address)
    assert refused.status_code == 400 or "was struck" in text_of(refused)


def test_entry_page_shows_its_story_and_who_relies_on_it(technician, lab, chamber):
    entry = put_in(lab, chamber, "F2-01", 100, note="left shoe of the pair")
    performed = (NOW - 50 * HOUR).isoformat()
    test = lab.accepted(specimen="F2-01", performed=performed, conditioned="50 h")
    page = text_of(technician.get(reverse("labtests:conditioning-detail", args=[entry.pk])))
    assert f"Test {test.pk}" in page
    assert "left shoe of the pair" in page
    strike = reverse("labtests:conditioning-strike", args=[entry.pk])
    assert technician.post(strike, {"reason": ""}).status_code == 400
    assert "is struck" in text_of(technician.post(strike, {"reason": "it was F2-02"}, follow=True))
    page = text_of(technician.get(reverse("labtests:conditioning-detail", args=[entry.pk])))
    assert "it was F2-02" in page
    assert "Strike the entry" not in page
    assert technician.post(strike, {"reason": "again"}).status_code == 400
    test.refresh_from_db()
    assert test.state == "held"


def test_log_is_filtered_and_says_what_was_noted_late(technician, lab, chamber):
    put_in(lab, chamber, "F2-01", 50, at=NOW)
    put_in(lab, chamber, "F2-02", 10)
    address = reverse("labtests:conditioning-list")
    text = text_of(technician.get(address, {"specimen": "F2-01"}))
    assert "noted 2 d 2 h later" in text.replace("\xa0", " ")
    assert "F2-02" not in text
    assert "1 entry</p>" in text
    assert "No entry matches" in text_of(technician.get(address, {"state": "struck"}))
    assert technician.get(address, {"state": "lost"}).status_code == 400


def test_chambers_are_set_up_on_the_page(technician, lab):
    address = reverse("labtests:chamber-create")
    assert technician.post(address, {"code": "C-7", "name": "Cabinet"}).status_code == 302
    assert technician.post(address, {"code": "C-7"}).status_code == 400
    assert technician.post(address, {"code": "a b"}).status_code == 400
    assert technician.post(address, {}).status_code == 400
    text = text_of(technician.get(reverse("labtests:chamber-list")))
    assert "Cabinet" in text


def test_office_reads_and_changes_nothing(client, cast, lab, chamber):
    entry = put_in(lab, chamber, "F2-01", 50)
    client.force_login(cast.office)
    text = day(client)
    assert "Take out" not in text
    assert "Put a specimen in" not in text
    assert client.post(reverse("labtests:specimen-out", args=[entry.pk])).status_code == 403


def test_test_page_says_whose_word_the_hours_are(technician, lab, chamber):
    claimed = lab.accepted(specimen="F2-01")
    page = text_of(technician.get(reverse("labtests:test-detail", args=[claimed.pk])))
    assert "Conditioning time: as claimed by the file." in page
    entry = put_in(lab, chamber, "F2-02", 100)
    logged = lab.accepted(specimen="F2-02", performed=(NOW - 50 * HOUR).isoformat(), conditioned="50.2 h")
    page = text_of(technician.get(reverse("labtests:test-detail", args=[logged.pk]))).replace("\xa0", " ")
    assert "computed from the log of chamber C-1" in page
    assert "the file claims 50.2 h" in page
    services.conditioning_strike(actor=lab.technician, entry=entry, reason="never lay there")
    page = text_of(technician.get(reverse("labtests:test-detail", args=[logged.pk])))
    assert "That entry was struck: never lay there" in page


def test_conditioning_outside_the_log_s_rule_is_shown_outside(technician, lab, chamber):
    entry = put_in(lab, chamber, "F2-01", 90)
    services.specimen_out(actor=lab.technician, entry=entry, out_at=NOW - 20 * HOUR, at=NOW)
    test = lab.accepted(specimen="F2-01", performed=(NOW - 15 * HOUR).isoformat(), conditioned="66 h")
    page = text_of(technician.get(reverse("labtests:test-detail", args=[test.pk])))
    assert "5.00 h before the test" in page
    assert page.count(">outside</span>") == 1


@pytest.mark.parametrize(
    ("due_in", "words", "is_good"),
    [
        (-1, "out of date since 6 March 2026", False),
        (0, "due today", False),
        (1, "due in 1 day", False),
        (30, "due in 30 days", False),
        (31, "in calibration", True),
    ],
)
def test_calibrations_warn_thirty_days_ahead_by_quantity(technician, lab, due_in, words, is_good):
    due_on = NOW.date() + dt.timedelta(days=due_in)
    Calibration.objects.filter(rig=lab.rig, quantity="torque").update(due_on=due_on)
    assert words in day(technician)
    for address in ("/lab/", "/lab/rigs/", "/lab/rigs/rig-1/"):
        text = text_of(technician.get(address))
        assert ("due in" in text) is False if is_good else words in text, address


def test_calibration_that_begins_later_does_not_count_today(technician, lab):
    Calibration.objects.filter(quantity="torque").update(calibrated_on=NOW.date() + dt.timedelta(days=3))
    assert "begins on 9 March 2026" in day(technician)
    Calibration.objects.filter(quantity="force").delete()
    assert "missing" in day(technician)


def test_calibration_out_of_date_holds_the_test(technician, lab):
    Calibration.objects.filter(quantity="torque").update(due_on=dt.date(2026, 3, 1))
    test = lab.accepted()
    assert [reason["code"] for reason in test.reasons] == ["calibration_torque"]
    assert "torque calibration of rig rig-1 ran out on 2026-03-01" in day(technician)


def test_stopped_rig_is_named(technician, lab):
    services.rig_stop(actor=lab.technician, rig=lab.rig, reason="check shoe drifted")
    assert "check shoe drifted" in day(technician)


@pytest.mark.parametrize(("address", "most"), [(BENCH, 16), ("/lab/conditioning/", 8), ("/lab/chambers/", 6)])
def test_pages_take_the_same_queries_however_long(
    technician, lab, chamber, address, most, django_assert_max_num_queries
):
    other = services.chamber_create(actor=lab.reviewer, code="C-2")
    for number in range(6):
        put_in(lab, (chamber, other)[number % 2], f"A-{number}", 20 + 10 * number)
        lab.accepted(specimen=f"H-{number}", temperature="30 degC")
        out = put_in(lab, chamber, f"B-{number}", 60)
        services.specimen_out(actor=lab.technician, entry=out, out_at=NOW - HOUR / 2, at=NOW)
    assert Specimen.objects.count() == 18
    with django_assert_max_num_queries(most):
        assert technician.get(address).status_code == 200
