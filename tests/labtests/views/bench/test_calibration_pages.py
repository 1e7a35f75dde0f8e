"""Pages of calibrations: typed in with their certificate, signed, struck; budgets lead to them."""

from __future__ import annotations

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from labtests.models import Calibration
from tests.labtests.services.bench.test_calibration_records import PDF, _own_folder, record  # noqa: F401 a fixture

FORM = {
    "quantity": "force",
    "certificate": "C-77",
    "calibrated_on": "2026-02-01",
    "due_on": "2027-02-01",
    "standard_uncertainty": "0.4",
    "resolution": "0.1",
}


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@pytest.fixture
def reviewer(lab, client_class=None):
    from django.test import Client

    client = Client()
    client.force_login(lab.reviewer)
    return client


def text_of(response):
    return response.content.decode()


def page(client, name, *args):
    response = client.get(reverse(f"labtests:{name}", args=args))
    assert response.status_code == 200
    return text_of(response)


def test_calibration_goes_from_the_form_to_its_signature(technician, reviewer, lab):
    more = {"laboratory": "Harrow Metrology", "points": "0; 0.2; 0\n400; 401", "range_low": "0", "range_high": "800"}
    file = SimpleUploadedFile("scan.pdf", PDF)
    sent = technician.post(reverse("labtests:calibration-create", args=["rig-1"]), {**FORM, **more, "file": file})
    assert sent.status_code == 302
    calibration = Calibration.objects.get(certificate="C-77")
    assert "waits for its second signature" in page(technician, "rig-detail", "rig-1")
    mine = page(technician, "calibration-detail", calibration.pk)
    assert "somebody else has to compare it" in mine
    assert "Sign the calibration</button>" not in mine
    assert "Sign the calibration</button>" in page(reviewer, "calibration-detail", calibration.pk)
    technician.post(reverse("labtests:calibration-sign", args=[calibration.pk]))
    assert not Calibration.objects.get(pk=calibration.pk).is_signed
    reviewer.post(reverse("labtests:calibration-sign", args=[calibration.pk]))
    assert Calibration.objects.get(pk=calibration.pk).is_signed


def test_certificate_is_sent_to_people_of_the_lab_alone(technician, lab, cast):
    from django.test import Client

    calibration = record(lab)
    assert technician.get(reverse("labtests:calibration-file", args=[calibration.pk])).status_code == 404
    file = SimpleUploadedFile("scan.pdf", PDF)
    address = reverse("labtests:calibration-attach", args=[calibration.pk])
    assert technician.post(address, {"file": file}).status_code == 302
    sent = technician.get(reverse("labtests:calibration-file", args=[calibration.pk]))
    assert sent.content == PDF
    assert sent.headers["Content-Disposition"].startswith("attachment")
    assert sent.headers["X-Content-Type-Options"] == "nosniff"
    fitter = Client()
    fitter.force_login(cast.fitter_a)
    assert fitter.get(reverse("labtests:calibration-file", args=[calibration.pk])).status_code == 403
    assert Client().get(reverse("labtests:calibration-file", args=[calibration.pk])).status_code == 302


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"standard_uncertainty": "0"}, "must be greater than 0"),
        ({"due_on": "2126-02-01"}, "more than five years after"),
        ({"calibrated_on": "2027-12-01", "due_on": "2028-12-01"}, "is in the future"),
        ({"points": "0; zero"}, "line 1, as found"),
        ({"range_low": "5", "range_high": "5"}, "is empty"),
        ({"standard_uncertainty": "inf"}, "Enter a number"),
    ],
)
def test_form_says_what_can_not_be(technician, change, words):
    answer = technician.post(reverse("labtests:calibration-create", args=["rig-1"]), {**FORM, **change})
    assert answer.status_code == 400
    assert words in text_of(answer)
    assert not Calibration.objects.filter(certificate="C-77").exists()


def test_file_that_is_no_certificate_is_refused_on_the_page(technician):
    file = SimpleUploadedFile("c.pdf", b"<script>")
    answer = technician.post(reverse("labtests:calibration-create", args=["rig-1"]), {**FORM, "file": file})
    assert answer.status_code == 400
    assert "not a PDF, PNG or JPEG" in text_of(answer)


def test_budget_leads_to_the_certificate_of_each_row(technician, lab):
    test = lab.accepted()
    force = Calibration.objects.get(quantity="force")
    text = page(technician, "test-detail", test.pk)
    assert f'href="{reverse("labtests:calibration-detail", args=[force.pk])}">C-force</a>' in text
    assert "climate not shown" in text


def test_struck_calibration_says_so_with_its_reason(reviewer, technician, lab):
    calibration = Calibration.objects.get(quantity="force")
    address = reverse("labtests:calibration-strike", args=[calibration.pk])
    assert technician.post(address, {"reason": "x"}).status_code == 403
    assert reviewer.post(address, {}).status_code == 400
    assert reviewer.post(address, {"reason": "the wrong load cell"}).status_code == 302
    assert "the wrong load cell" in page(technician, "calibration-detail", calibration.pk)
    assert reviewer.post(address, {"reason": "x"}).status_code == 400


def test_calibration_page_takes_as_many_queries_with_more_tests(technician, lab, django_assert_max_num_queries):
    calibration = Calibration.objects.get(quantity="force")
    lab.accepted(specimen="F2-01")
    lab.accepted(specimen="F2-02", side="right")
    with django_assert_max_num_queries(12):
        page(technician, "calibration-detail", calibration.pk)


def test_points_of_a_certificate_reach_the_budget_of_a_test(technician, reviewer, lab):
    """Zero, gain and linearity on the certificate's page, in the API, and in the budget of the next test."""
    points = "0; 0.1; 0.1\n200; 200.9; 200.3\n400; 401.6; 400.4\n600; 602; 600.9"
    form = {**FORM, "calibrated_on": "2026-02-10", "points": points, "range_low": "0", "range_high": "800"}
    technician.post(reverse("labtests:calibration-create", args=["rig-1"]), form)
    calibration = Calibration.objects.get(certificate="C-77")
    reviewer.post(reverse("labtests:calibration-sign", args=[calibration.pk]))
    shown = page(technician, "calibration-detail", calibration.pk)
    assert "Gain by the points" in shown
    assert "correlation with the zero" in shown
    listed = technician.get("/api/lab/rigs/rig-1/calibrations/").json()["results"]
    by_certificate = {each["certificate"]: each["fit"] for each in listed}
    assert by_certificate["C-torque"] is None
    assert by_certificate["C-77"]["n"] == 4
    assert by_certificate["C-77"]["gain"] == pytest.approx(1.00125, abs=1e-5)
    test = lab.accepted()
    detail = page(technician, "test-detail", test.pk)
    for name in ("standard", "zero", "gain", "linearity", "known error"):
        assert f"force, calibration: {name}" in detail, name
    assert "torque, calibration:" not in detail
    # The draws take all of them as one error of the force.
    assert page(technician, "test-monte-carlo", test.pk)
