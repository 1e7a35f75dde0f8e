"""Pages of temperature studies: from the plan to the coefficients in use."""

from __future__ import annotations

import pytest
from django.urls import reverse

from labtests.models import TemperatureState, TemperatureStudy
from tests.labtests.bench_text import bench_bytes, curve_rows

WARM = (19.5, 21.0, 22.5, 24.0, 25.5)


@pytest.fixture
def planned(lab, client):
    lab.accepted(performed="2026-03-01T09:00:00+00:00")
    client.force_login(lab.technician)
    plan = {"title": "Warm foam", "rig": "rig-1", "specimen": "F2-01", "begins_on": "2026-03-02", "reason": "yearly"}
    response = client.post(reverse("labtests:temperature-create"), plan)
    study = TemperatureStudy.objects.get()
    assert response.url == reverse("labtests:temperature-detail", args=[study.pk])
    return study


@pytest.fixture
def tested(lab, planned):
    for hour, celsius in enumerate(WARM, start=10):
        softer = 1.0 - 0.007 * (celsius - 23.0) + 0.0004 * (-1) ** hour
        data = bench_bytes(
            curve_rows([(5.1 * softer, 5.9 / softer)]),
            temperature=f"{celsius} degC",
            performed=f"2026-03-04T{hour}:00:00+00:00",
        )
        lab.upload(data, name=f"{celsius}.csv")
    return planned


def address(verb, study):
    return reverse(f"labtests:temperature-{verb}", args=[study.pk])


def test_plan_that_names_no_specimen_says_so(lab, client):
    client.force_login(lab.technician)
    plan = {"title": "Warm foam", "rig": "rig-1", "specimen": "F9-9", "begins_on": "2026-03-02", "reason": "yearly"}
    response = client.post(reverse("labtests:temperature-create"), plan)
    assert response.status_code == 400
    assert "there is no specimen “F9-9”" in response.content.decode()


def test_study_without_tests_says_what_is_missing(client, planned):
    page = client.get(address("detail", planned)).content.decode()
    assert "not known: 4 tests or more are needed, there are 0" in page
    assert "None yet." in page
    assert "Propose them" not in page


def test_coefficients_are_shown_with_their_interval_and_number(client, tested):
    page = client.get(address("detail", tested)).content.decode()
    assert "−0.7" in page
    assert "One kelvin warmer, and it is 0.7" in page
    assert "5, 19.5 to 25.5 °C" in page


def test_proposed_by_one_and_taken_into_use_by_another(lab, client, tested):
    assert "Propose them" in client.get(address("detail", tested)).content.decode()
    client.post(address("propose", tested), {"reason": "five temperatures"})
    page = client.get(address("detail", tested)).content.decode()
    assert "waiting for adoption" in page
    assert "Take them into use" not in page
    assert client.post(address("adopt", tested), {"reason": "mine"}).status_code == 403
    client.force_login(lab.reviewer)
    assert "Take them into use" in client.get(address("detail", tested)).content.decode()
    assert client.post(address("adopt", tested), {"reason": ""}).status_code == 400
    client.post(address("adopt", tested), {"reason": "agreed"})
    tested.refresh_from_db()
    assert tested.state == TemperatureState.ADOPTED
    assert "Measured by the lab" in client.get(reverse("labtests:temperature-list")).content.decode()
    public = client.get("/how-we-measure/").content.decode()
    assert "Measured by the lab on one specimen" in public
    assert "from memory" not in public


def test_decision_that_comes_too_late_is_refused_with_its_reason(client, tested):
    client.post(address("discard", tested), {"reason": "a wrong specimen"})
    response = client.post(address("propose", tested), {"reason": "five temperatures"}, follow=True)
    assert "can no longer be done" in response.content.decode()


def test_bound_is_stated_until_then(client, planned):
    assert "Up to 1.5 % per kelvin" in client.get(reverse("labtests:temperature-list")).content.decode()
    assert "upper bound" in client.get("/how-we-measure/").content.decode()


def test_pages_take_few_queries(client, tested, django_assert_max_num_queries):
    with django_assert_max_num_queries(7):
        client.get(address("detail", tested))
    with django_assert_max_num_queries(8):
        client.get(reverse("labtests:temperature-list"))
