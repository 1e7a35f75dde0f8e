"""Pages of the chambers' climate: a logger's file previewed, imported, drawn beside the stays, struck."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from labtests import services
from labtests.models import ClimateLog, State
from tests.labtests.services.bench.test_climate_logs import logger
from tests.labtests.services.bench.test_conditioning_log import put_in
from tests.shared import shared


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@shared
def entry(lab):
    return put_in(lab, services.chamber_create(actor=lab.reviewer, code="C-1"))


def text_of(response):
    return response.content.decode()


def page(client, name, *args):
    response = client.get(reverse(f"labtests:{name}", args=args))
    assert response.status_code == 200
    return text_of(response)


def stage(client, data, **options):
    file = SimpleUploadedFile("logger.csv", data)
    return client.post(reverse("labtests:climate-stage", args=["C-1"]), {"file": file, **options})


def test_file_is_previewed_imported_and_drawn_beside_the_stay(technician, lab, entry):
    test = lab.accepted()
    assert "climate not shown: no logger file" in page(technician, "test-detail", test.pk)
    sent = stage(technician, logger(warm_at_h=10.0))
    assert sent.status_code == 302
    shown = text_of(technician.get(sent.headers["Location"]))
    assert f"Test {test.pk}</a> of F2-01: chamber C-1 was at 26.5 °C" in shown
    assert not ClimateLog.objects.exists()
    assert technician.post(sent.headers["Location"]).status_code == 302
    log = ClimateLog.objects.get()
    test.refresh_from_db()
    assert test.state == State.HELD
    for name, pk in (("test-detail", test.pk), ("conditioning-detail", entry.pk)):
        text = page(technician, name, pk)
        assert "Climate during the conditioning: temperature" in text
        assert "Climate during the conditioning: relative humidity" in text
        assert "Humidity is recorded for information only: no protocol limits it." in text
        assert 'class="lab-stay"' in text
        assert "with 1 excursion out of the accepted range" in text
    text = page(technician, "climate-detail", log.pk)
    assert f"Test {test.pk}</a>" in text
    assert text.count("<polyline") == 2
    assert "logger.csv" in page(technician, "climate-list", "C-1")
    # The staged file is gone: the button pressed twice finds nothing.
    assert technician.post(sent.headers["Location"]).status_code == 404


def test_problems_are_shown_by_line_and_column_and_another_zone_can_be_tried(technician, entry):
    data = b"time,temp [C]\n2026-03-02 10:00,23\n2026-03-02 11:00,warm\n"
    location = stage(technician, data).headers["Location"]
    answer = technician.get(location)
    assert answer.status_code == 400
    assert "Line 2, time:" in text_of(answer)
    assert "Line 3, temperature:" in text_of(answer)
    in_zone = technician.get(location.split("?")[0], {"time_zone": "Europe/Oslo"})
    assert "Line 2, time:" not in text_of(in_zone)
    assert "Line 3, temperature:" in text_of(in_zone)
    for options in ({"time_zone": "Mars/Base"}, {"unit": "K"}):
        assert technician.get(location.split("?")[0], options).status_code == 400
        assert (
            technician.post(f"{location.split('?')[0]}?{'&'.join(f'{k}={v}' for k, v in options.items())}").status_code
            == 400
        )
    assert technician.post(location).status_code == 400
    assert not ClimateLog.objects.exists()


def test_staged_file_is_there_for_its_sender_alone_and_is_no_upload(technician, lab, entry):
    location = stage(technician, logger()).headers["Location"]
    batch = location.split("?")[0].rstrip("/").rsplit("/", 1)[-1]
    other = Client()
    other.force_login(lab.reviewer)
    assert other.get(location).status_code == 404
    assert technician.get(reverse("labtests:upload-preview", args=[batch])).status_code == 404


def test_log_is_struck_with_a_reason(technician, lab, entry):
    technician.post(stage(technician, logger()).headers["Location"])
    log = ClimateLog.objects.get()
    address = reverse("labtests:climate-strike", args=[log.pk])
    assert technician.post(address, {}).status_code == 400
    assert technician.post(address, {"reason": "of another chamber"}).status_code == 302
    assert "of another chamber" in page(technician, "climate-detail", log.pk)
    assert technician.post(address, {"reason": "again"}).status_code == 400


def test_readers_see_the_climate_but_import_none(cast, lab, entry):
    office = Client()
    office.force_login(cast.office)
    assert "Import a logger file" not in page(office, "climate-list", "C-1")
    assert stage(office, logger()).status_code == 403


def test_list_of_logs_takes_as_many_queries_with_more_logs(technician, entry, django_assert_max_num_queries):
    for begin_h in (60, 61, 62):
        technician.post(stage(technician, logger(begin_h=begin_h)).headers["Location"])
    with django_assert_max_num_queries(8):
        page(technician, "climate-list", "C-1")
