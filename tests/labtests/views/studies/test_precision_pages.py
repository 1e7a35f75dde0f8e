"""Pages that compare rigs over shared specimens, and laboratories by a table."""

from __future__ import annotations

import pytest
from django.urls import reverse

from labtests import services
from tests.labtests.views.lab_pages import page, queries_of, text_of
from tests.labtests.views.studies.measured_tests import measured, moment
from tests.shared import shared

RING = "lab,specimen,value\nA,one,4.1\nA,one,4.2\nB,one,4.3\nB,one,4.2\nC,one,4.0\nC,one,4.1\n"


@pytest.fixture
def technician(lab, client):
    client.force_login(lab.technician)
    return client


@shared
def three_rigs(lab):
    """Two specimens on three rigs, twice each; the third rig reads high."""
    for number, offset in ((1, 0.0), (2, 0.01), (3, 0.3)):
        if number > 1:
            services.rig_create(actor=lab.reviewer, code=f"rig-{number}")
        for n, (specimen, torque) in enumerate([("P-1", 4.0), ("P-1", 4.02), ("P-2", 5.0), ("P-2", 5.03)]):
            test = measured(lab, specimen, torque + offset, moment(n, number), rig=f"rig-{number}")
            # The rigs beside the first have no calibration: their tests are held, and become accepted here.
            type(test).objects.filter(pk=test.pk).update(state="accepted", reasons=[])
    return lab


def test_rigs_are_compared_over_shared_specimens(technician, three_rigs):
    text = page(technician, "precision-detail")
    for words in (
        "P-1",
        "P-2",
        "rig-3",
        "Precision by specimen",
        "Cochran’s test",
        "Grubbs’ test",
        "2.8 times",
        "Between the rigs alone",
        "nothing found</span> would name",
        "to be named in 8 of 10 such comparisons; less can go unnoticed",
    ):
        assert words in text, words
    one = page(technician, "precision-detail", specimen="P-1", quantity="deflection")
    assert 'id="h-level-2"' not in one


def test_comparison_over_other_days_finds_nothing_and_says_so(technician, three_rigs):
    text = page(technician, "precision-detail", specimen="P-1", ends_on="2020-01-01")
    assert "Not computed" in text


@pytest.mark.parametrize("query", [{"specimen": "X"}, {"begins_on": "soon"}, {"quantity": "colour"}])
def test_comparison_that_cannot_be_read_is_explained(technician, three_rigs, query):
    response = technician.get(reverse("labtests:precision-detail"), query)
    assert response.status_code == 400
    assert "cannot be compared" in text_of(response)


def test_comparison_without_shared_specimens_says_so(technician, lab):
    lab.accepted()
    assert "No specimen has been tested on two rigs yet" in page(technician, "precision-detail")


def test_laboratories_are_compared_by_a_table(technician):
    address = reverse("labtests:precision-what-if")
    assert technician.get(address).status_code == 200
    text = text_of(technician.post(address, {"text": RING}))
    assert "Precision by specimen" in text
    many = "lab,specimen,value\n" + "".join(f"A,s{n},1\nB,s{n},2\n" for n in range(13))
    assert technician.post(address, {"text": many}).status_code == 400
    single = technician.post(address, {"text": "lab,specimen,value\nA,one,1\nB,one,2\n"})
    assert "at least one laboratory must have" in text_of(single)


def test_comparison_takes_the_same_queries_for_one_specimen_or_two(technician, three_rigs):
    one = queries_of(technician, "precision-detail", specimen="P-1")
    assert queries_of(technician, "precision-detail") == one
