"""Uploading on the page: looked at first, then stored, and every problem named."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labtests.models import StagedUpload, Upload
from tests.labtests.bench_text import bench_bytes
from tests.labtests.views.lab_pages import page, text_of


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


def stage(client, data, name="a.csv"):
    return client.post(reverse("labtests:upload-create"), {"file": SimpleUploadedFile(name, data)})


def test_upload_is_looked_at_before_it_is_stored(technician):
    answer = stage(technician, bench_bytes())
    assert answer.status_code == 302
    text = text_of(technician.get(answer.url))
    assert "Nothing is stored yet" in text
    assert "Accepted: 1 test" in text
    assert not Upload.objects.exists()
    stored = technician.post(answer.url)
    upload = Upload.objects.get()
    assert stored.url == reverse("labtests:upload-detail", args=[upload.pk])
    assert not StagedUpload.objects.exists()
    assert "Accepted: 1 test" in page(technician, "upload-detail", upload.pk)


def test_preview_names_each_problem_by_line_and_column(technician):
    answer = stage(technician, bench_bytes(["torsion,1,loading,0,nan"], side="L"))
    text = text_of(technician.get(answer.url))
    assert "Refused: 2 problems" in text
    assert "write left or right" in text
    assert '<td data-label="Line" class="num">16</td>' in text


def test_what_was_looked_at_can_be_forgotten(technician):
    answer = stage(technician, bench_bytes())
    assert technician.post(answer.url, {"forget": "1"}).url == reverse("labtests:upload-create")
    assert not StagedUpload.objects.exists()
    assert not Upload.objects.exists()
    assert technician.get(answer.url).status_code == 404


def test_staged_bytes_of_somebody_else_are_not_there(technician, lab, client):
    answer = stage(technician, bench_bytes())
    client.force_login(lab.reviewer)
    assert client.get(answer.url).status_code == 404


def test_same_bytes_again_lead_to_the_first_upload(technician, lab):
    upload = lab.upload(bench_bytes())
    answer = technician.post(stage(technician, bench_bytes()).url, follow=True)
    assert answer.redirect_chain[-1][0] == reverse("labtests:upload-detail", args=[upload.pk])
    assert "nothing was stored twice" in text_of(answer)


def test_upload_form_without_a_file_says_so(technician):
    response = technician.post(reverse("labtests:upload-create"), {})
    assert response.status_code == 400
    assert "Choose a file for “Bench files, readings files or ZIPs of them”." in text_of(response)


def test_upload_form_over_the_limit_says_so(technician, settings):
    settings.UPLOAD_MAX_BYTES = 10
    response = stage(technician, b"x" * 11)
    assert response.status_code == 400
    assert "Send it in several parts" in text_of(response)


@pytest.mark.parametrize("data", [b"", b"\xff", b"PK\x03\x04x", b"<script>alert(1)</script>"])
def test_odd_bytes_get_a_verdict(technician, data):
    assert "Refused" in text_of(technician.get(stage(technician, data).url))


def test_names_are_escaped(technician):
    answer = stage(technician, b"", name="<b>x.csv")
    assert "<b>x.csv" not in technician.get(answer.url).content.decode()


def test_raw_bytes_come_back_as_a_download(technician, lab):
    data = bench_bytes()
    upload = lab.upload(data, name="ä b.csv")
    response = technician.get(reverse("labtests:upload-raw", args=[upload.pk]))
    assert response.content == data
    assert response.headers["Content-Type"] == "application/octet-stream"
    assert response.headers["Content-Disposition"].startswith("attachment")
