"""The variance components and the planner, on pages and in the API."""

from __future__ import annotations

import pytest
from django.urls import reverse
from rest_framework.test import APIClient

from catalogue.services import shoe_create
from labtests import services
from labtests.models import Level, VariancePool
from tests.shared import shared

COMPONENTS, PLANNER = reverse("labtests:component-list"), reverse("labtests:planner")
API_COMPONENTS, API_PLANNER = "/api/lab/components/", "/api/lab/planner/"


@shared
def published(lab):
    """Two shoes of two specimens, published."""
    other = shoe_create(actor=None, slug="other-shoe", brand=lab.shoe.brand, name="Other", version="1")
    for shoe, codes in ((lab.shoe, ("F2-01", "F2-02")), (other, ("F9-01", "F9-02"))):
        for code, torque in zip(codes, (5.0, 5.12), strict=True):
            lab.approved(specimen=code, torque_15=torque, shoe=shoe.slug)
        services.shoe_publish(actor=lab.reviewer, shoe=shoe, reason="first tests")
    return lab


@pytest.fixture
def technician(client, lab):
    client.force_login(lab.technician)
    return client


@pytest.fixture
def api(lab):
    client = APIClient()
    client.force_authenticate(lab.technician)
    return client


def test_page_before_anything_is_published(technician):
    page = technician.get(COMPONENTS).content.decode()
    assert "Nothing has been published yet" in page
    assert "not known for this rig yet" in page


def test_pool_holds_the_specimens_of_both_shoes(published):
    pool = VariancePool.objects.get(level=Level.SPECIMENS)
    assert (pool.shoes, pool.df) == (2, 2)
    # Two specimens 0.12 N·m apart in each shoe.
    assert pool.squares[0] == pytest.approx(2 * 2 * 0.06**2, rel=1e-3)


def test_page_says_and_draws_the_components(published, technician, django_assert_max_num_queries):
    with django_assert_max_num_queries(30):
        page = technician.get(COMPONENTS).content.decode()
    assert "Specimens of one shoe" in page
    assert "<svg" in page
    assert "single repeats, pooled over its tests" in page


def test_api_says_the_components(published, api):
    body = api.get(API_COMPONENTS).json()
    (specimens,) = (one for one in body["components"] if (one["level"], one["score"]) == ("specimens", "midfoot"))
    assert (specimens["shoes"], specimens["degrees_of_freedom"]) == (2, 2)
    assert specimens["variance"] == pytest.approx((100 / 9.038783) ** 2 * 2 * 0.06**2, rel=0.05)
    (rig,) = body["rigs"]
    assert (rig["rig"], rig["setups"]) == ("rig-1", [])
    assert rig["repeats"]["degrees_of_freedom"] == 8


def test_planner_says_how_many_specimens_it_takes(published, technician):
    page = technician.get(PLANNER, {"wanted": "30", "score": "stability", "rig": "rig-1", "days": "1"})
    assert page.status_code == 200
    assert "What it takes" in page.content.decode()
    none = technician.get(PLANNER, {"wanted": "0.05", "score": "stability", "rig": "rig-1", "days": "1"})
    assert "Even 12 specimens do not reach" in none.content.decode()


def test_planner_without_any_publication_says_so(technician):
    page = technician.get(PLANNER, {"wanted": "2", "score": "stability", "rig": "rig-1", "days": "1"})
    assert "Too little is known yet" in page.content.decode()


@pytest.mark.parametrize(
    "asked",
    [{"wanted": "-1"}, {"wanted": "x"}, {"wanted": "1", "rig": "none"}, {"wanted": "1", "days": "0"}, {"score": "y"}],
)
def test_planner_refuses_what_it_cannot_plan(technician, asked):
    assert technician.get(PLANNER, asked).status_code == 400


def test_planner_asks_first_whatever_else_an_address_has(technician):
    page = technician.get(PLANNER, {"seen": "in a letter"})
    assert (page.status_code, page.context["form"].is_bound) == (200, False)


def test_api_plans(published, api):
    body = api.get(API_PLANNER, {"wanted": 30, "rig": "rig-1"}).json()
    assert body["least"]["expanded_uncertainty"] <= 30
    one = next(c for c in body["choices"] if (c["specimens"], c["repeats"]) == (1, 3))
    more = next(c for c in body["choices"] if (c["specimens"], c["repeats"]) == (5, 3))
    assert more["expanded_uncertainty"] < one["expanded_uncertainty"]
    assert one["coverage_factor"] > 2


def test_api_planner_names_what_is_wrong(api):
    assert api.get(API_PLANNER, {"wanted": 1, "rig": "rig-1"}).status_code == 409
    assert api.get(API_PLANNER, {"wanted": 1, "rig": "nowhere"}).status_code == 404
    refused = api.get(API_PLANNER, {"rig": "rig-1"})
    assert refused.status_code == 400
    assert "wanted" in str(refused.json())
