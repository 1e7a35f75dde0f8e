"""What nobody should send at the bench, sent: refused in words at its field, with what was typed still there."""

from __future__ import annotations

import datetime as dt
import html

import pytest
from django.urls import reverse

from labtests import services
from labtests.models import CheckDuty, ConditioningEntry

GIVEN = {"specimen": "F2-77", "chamber": "C-1", "shoe": "fenrunner-2", "size": "42.5", "side": "left", "note": "wet"}


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    client.raise_request_exception = False
    return client


@pytest.fixture
def chamber(lab):
    return services.chamber_create(actor=None, code="C-1")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("specimen", ""),
        ("specimen", "x" * 65),
        ("specimen", "a\x07b"),
        ("specimen", "a\x00b"),
        ("specimen", "a\nb"),
        ("chamber", ""),
        ("chamber", "1"),
        ("chamber", "C-1\x00"),
        ("shoe", "no-such"),
        ("shoe", "a\x07"),
        ("shoe", "x" * 100_000),
        ("size", "NaN"),
        ("size", "1e400"),
        ("size", "-1"),
        ("side", "left\x00"),
        ("in_at", "0001-01-01T00:00"),
        ("in_at", "9999-12-31T23:59"),
        ("in_at", "2026-02-30T00:00"),
        ("out_at", "0001-01-01T00:00"),
        ("out_at", "9999-12-31T23:59"),
        ("note", "x" * 301),
        ("note", "a\x1b[2Jb"),
    ],
)
def test_putting_in_is_refused_at_its_field_and_nothing_typed_is_lost(technician, chamber, name, value):
    response = technician.post(reverse("labtests:specimen-in"), {**GIVEN, name: value})
    assert response.status_code == 400
    assert response.context["form"].errors.keys() == {name}
    page = response.content.decode()
    for other in GIVEN.keys() - {name, "shoe"}:
        assert html.escape(GIVEN[other]) in page
    assert not ConditioningEntry.objects.exists()


def test_size_of_nothing_contradicts_the_record(technician, chamber, lab):
    technician.post(reverse("labtests:specimen-in"), GIVEN)
    response = technician.post(reverse("labtests:specimen-in"), {**GIVEN, "size": "0"})
    assert response.status_code == 400
    assert "on record with the size 42.5" in response.content.decode()


@pytest.fixture
def duty(lab):
    test = lab.accepted(specimen="CHK-1")
    return services.check_shoe_designate(
        actor=lab.technician, rig=test.rig, specimen=test.specimen, since=dt.date(2026, 2, 1), reason="steady"
    )


@pytest.mark.parametrize("reason", ["", "x" * 2001, "torn\x07", "torn\x00"])
def test_check_shoe_is_retired_for_a_readable_reason_alone(lab, client, duty, reason):
    client.force_login(lab.reviewer)
    response = client.post(reverse("labtests:check-retire", args=["rig-1"]), {"reason": reason})
    assert response.status_code == 400
    page = response.content.decode()
    assert 'id="id_retire_reason_error"' in page
    assert reason.rstrip("\x00") in page
    assert CheckDuty.objects.get().retired_at is None


def test_reason_of_a_second_designation_is_not_lost(technician, duty):
    given = {"specimen": "CHK-1", "since": "2026-03-01", "reason": "denser than the one before"}
    response = technician.post(reverse("labtests:check-designate", args=["rig-1"]), given)
    assert response.status_code == 400
    page = response.content.decode()
    assert 'class="form-errors"' in page
    assert "denser than the one before" in page


def test_second_of_two_who_retire_it_reads_that_none_is_on_duty(lab, client, duty):
    services.check_shoe_retire(actor=lab.reviewer, duty=duty, reason="torn")
    client.force_login(lab.reviewer)
    response = client.post(reverse("labtests:check-retire", args=["rig-1"]), {"reason": ""}, follow=True)
    assert "has no check shoe on duty" in response.content.decode()


@pytest.mark.parametrize("out_at", ["x", "\x00", "0001-01-01T00:00", "9999-12-31T23:59"])
def test_taking_out_at_no_time_is_refused(technician, chamber, out_at):
    technician.post(reverse("labtests:specimen-in"), GIVEN)
    entry = ConditioningEntry.objects.get()
    response = technician.post(reverse("labtests:specimen-out", args=[entry.pk]), {"out_at": out_at})
    assert response.status_code == 400
    entry.refresh_from_db()
    assert entry.out_at is None


@pytest.mark.parametrize("number", [0, 999_999, 2**63, 10**40])
def test_entry_that_there_is_not_is_not_found(technician, number):
    for action in ("out", "strike"):
        address = f"/lab/conditioning/{number}/{action}/"
        assert technician.post(address, {"reason": "x"}).status_code == 404
