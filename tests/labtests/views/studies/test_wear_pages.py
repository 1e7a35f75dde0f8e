"""Pages of wear series: the trend, each reading, and what too few tests are said to be."""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.labtests.views.lab_pages import page, queries_of
from tests.labtests.views.studies.measured_tests import moment
from tests.shared import shared


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@shared
def worn(lab):
    for n, km in enumerate((0, 100, 200, 300, 400, 500)):
        torque = 4.9 - 0.0012 * km + 0.004 * (-1) ** n
        data = bench_bytes(
            curve_rows([(torque + d, 6.0 + km / 900 + d) for d in (-0.01, 0.0, 0.01)]),
            specimen="W-1",
            performed=moment(n),
            worn=f"{km} km",
        )
        lab.upload(data)
    return lab


def test_wear_series_has_a_trend_and_says_when_the_band_is_left(technician, worn):
    assert "W-1" in page(technician, "wear-list")
    text = page(technician, "wear-detail", "W-1")
    for words in ("It leaves the band", "95 % interval", "plot__area", "Trend at the last", "beyond the last tested"):
        assert words in text, words


@pytest.mark.parametrize("quantity", ["torsional_stiffness", "heel_stiffness", "midfoot", "cushioning", "nonsense"])
@pytest.mark.parametrize("units", ["metric", "imperial"])
def test_wear_of_each_reading_is_shown(technician, worn, quantity, units):
    technician.cookies["units"] = units
    assert "<polyline" in page(technician, "wear-detail", "W-1", quantity=quantity)


def test_two_tests_are_too_few_to_say(technician, lab):
    for n, km in enumerate((0, 100)):
        lab.upload(bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen="W-2", performed=moment(n), worn=f"{km} km"))
    text = page(technician, "wear-detail", "W-2")
    assert "Too few to say" in text
    assert "there are 2 tests at 2 distances" in text


def test_specimen_without_a_scored_test_is_shown_empty(technician, lab):
    lab.upload(bench_bytes(["torsion,1,loading,0,0", "torsion,1,loading,9,3"]))
    assert "No test of this specimen is scored" in page(technician, "wear-detail", "F2-01")


def test_wear_page_takes_few_queries(technician, worn):
    assert queries_of(technician, "wear-detail", "W-1") <= 8


def test_wear_of_nothing_is_404(technician):
    assert technician.get(reverse("labtests:wear-detail", args=["no-such"])).status_code == 404
