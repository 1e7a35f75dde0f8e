"""Measured curves on the pages of shoes and in the API, by published series alone."""

from __future__ import annotations

import re

import pytest

from catalogue.models import CurveKind, ScoreCard
from catalogue.services import PublishedCurve, score_curves_replace
from core.web import display
from tests.shared import shared


def twist(end_nm, *, recordings=6):
    mean = (0.0, end_nm / 2, end_nm)
    low, high = tuple(0.9 * value for value in mean), tuple(1.2 * value for value in mean)
    return PublishedCurve(
        CurveKind.TORSION, (0.0, 7.5, 15.0), mean, low, high, specimens=min(2, recordings), recordings=recordings
    )


@shared
def shoes(make_shoe):
    one, two, _ = make_shoe("one", stability=55.0), make_shoe("two", stability=62.0), make_shoe("three")
    heel = PublishedCurve(CurveKind.COMPRESSION, (5.0, 444.8), (0.0, 6.0), (0.0, 5.5), (0.0, 6.2), 1, 3)
    score_curves_replace({one.pk: [twist(4.0), heel], two.pk: [twist(8.0, recordings=1)]})


def drawings(client, address):
    page = client.get(address).content.decode()
    return page, re.findall(r'<svg class="curves".*?</svg>', page, re.DOTALL)


@pytest.mark.usefixtures("shoes")
def test_shoe_page_draws_its_curves_and_says_the_figures(client):
    page, drawn = drawings(client, "/shoes/one/")
    assert len(drawn) == 2
    assert "Torque at 15°: one 1 4.00\xa0N·m (3.60 to 4.80)" in drawn[0].replace("Corvane ", "")
    assert "6 recordings of 2 specimens" in page
    published = display.day(ScoreCard.objects.get(shoe__slug="one").published_at)
    assert f"come from the same tests, published {published};" in page
    assert "curves__letter" not in drawn[0], "a shoe alone needs no letter"
    # The force is drawn over the deflection: the line ends at the mean deflection, the area reaches the most.
    assert "deflection, mm" in drawn[1]
    assert re.search(r'class="curves__dot" cx="326\.6" cy="30"', drawn[1])


@pytest.mark.usefixtures("shoes")
def test_compared_curves_share_their_axes_and_name_their_shoes(client):
    page, drawn = drawings(client, "/compare/?shoe=three&shoe=one&shoe=two")
    # The end of B is half as high as that of C: 4 of 8 N·m, drawn to 9.6 where the recordings of C end.
    ends = re.findall(r'class="curves__dot" cx="336" cy="([\d.]+)"', drawn[0])
    assert [round(230 - float(y)) for y in ends] == [83, 167]
    assert re.findall(r'curves__letter"[^>]*>(\w)<', drawn[0]) == ["B", "C"]
    assert "B: 6 recordings of 2 specimens, C: 1 recording of 1 specimen" in page


@pytest.mark.usefixtures("shoes")
def test_units_are_the_readers(client):
    client.cookies["units"] = "imperial"
    _, drawn = drawings(client, "/shoes/one/")
    assert "35.4\xa0in·lbf" in drawn[0]
    assert "deflection, in" in drawn[1]


@pytest.mark.usefixtures("shoes")
def test_shoe_without_curves_has_no_section(client):
    page, drawn = drawings(client, "/shoes/three/")
    assert not drawn
    assert "h-curves" not in page
    assert "curves.css" not in page


@pytest.mark.usefixtures("shoes")
def test_api_has_the_series_with_their_units_in_the_keys(client):
    body = client.get("/api/catalogue/shoes/one/curves/").json()
    assert body["torsion"]["angle_deg"] == [0.0, 7.5, 15.0]
    assert body["torsion"]["torque_most_nm"] == pytest.approx([0.0, 2.4, 4.8])
    assert body["compression"]["deflection_mm"] == [0.0, 6.0]
    assert body["compression"]["recordings"] == 3
    assert client.get("/api/catalogue/shoes/three/curves/").json() == {"torsion": None, "compression": None}
    assert client.get("/api/catalogue/shoes/none/curves/").status_code == 404
