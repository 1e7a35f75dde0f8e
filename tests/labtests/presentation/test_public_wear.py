"""What wear does, on the public page of the method: approved tests of published shoes alone."""

from __future__ import annotations

import re

from catalogue.selectors.public import method
from labtests import services
from labtests.models import BenchTest
from labtests.presentation.studies.public_wear import public_wear, wear_mark
from tests.labtests.bench_text import bench_bytes, curve_rows
from tests.shared import shared

ADDRESS = "/how-we-measure/"


@shared
def worn(lab):
    """One specimen at five distances, and the shoe it is of, published from two new ones."""
    for number, km in enumerate((0, 120, 240, 360, 480)):
        torque = 5.1 - 0.001 * km + 0.003 * (-1) ** number
        rows = curve_rows([(torque + d, 5.9 + km / 1000 + d) for d in (-0.01, 0.0, 0.01)])
        performed = f"2026-03-{10 + number:02}T09:00:00+00:00"
        lab.upload(bench_bytes(rows, specimen="W-1", performed=performed, worn=f"{km} km"), name=f"worn-{km}.csv")
    return lab


def approve(lab):
    for test in BenchTest.objects.filter(specimen__code="W-1", state="accepted"):
        services.bench_test_approve(actor=lab.reviewer, test=test, reason="")


def publish(lab):
    lab.approved(specimen="F2-01")
    lab.approved(specimen="F2-02", side="right")
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")


def text_of(client):
    return client.get(ADDRESS).content.decode().replace("\u00a0", " ")


def test_worn_specimens_of_published_shoes_are_shown_once_approved(worn, client):
    publish(worn)
    assert "What wear does" not in text_of(client)
    before = wear_mark()
    approve(worn)
    assert wear_mark() != before
    page = text_of(client)
    (section,) = re.findall(r'<section[^>]*aria-labelledby="m-wear">.*?</section>', page, re.DOTALL)
    assert section.count("<circle") == 5
    assert "Fenwright Fenrunner 2" in section
    assert re.search(r"Stability score changes by −\d", section)
    assert "95 % interval" in section
    assert "Nothing is said beyond the last tested distance" in section
    assert "W-1" not in section, "codes of specimens are the lab's"


def test_shoe_that_is_not_published_is_not_shown(worn, client):
    approve(worn)
    assert public_wear("metric") == []
    assert "What wear does" not in text_of(client)


def test_cost_does_not_grow_with_the_tests(worn, django_assert_num_queries):
    publish(worn)
    approve(worn)
    with django_assert_num_queries(1):
        (series,) = public_wear("metric")
    assert [km for km, _ in series.points] == [0.0, 120.0, 240.0, 360.0, 480.0]


def test_miles_are_written_for_those_who_read_them(worn, client):
    publish(worn)
    approve(worn)
    client.cookies["units"] = "imperial"
    assert " mi</text>" in text_of(client)


def test_lab_says_it_to_whoever_draws_the_page(worn):
    publish(worn)
    approve(worn)
    assert method.lab().wear("metric") == public_wear("metric")
