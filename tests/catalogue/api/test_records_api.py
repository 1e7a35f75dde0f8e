"""Brands, merging and a store's order list over the API."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.utils import timezone

from catalogue.models import MovementKind, StockItem
from catalogue.services import Pairs, reservation_make, stock_move
from core.audit import entries_of

BRANDS, SHOES, ORDERS = "/api/catalogue/brands/", "/api/catalogue/shoes/", "/api/catalogue/stores/store-a/orders/"
SIZE = Decimal("42.0")


@pytest.fixture
def lab(cast, api_for):
    return api_for(cast.technician)


@pytest.fixture
def manager(cast, api_for):
    return api_for(cast.manager_a)


def test_brands_are_listed_and_corrected_with_a_reason(lab, api_for, cast):
    made = lab.post(BRANDS, {"name": "Odderby"}, format="json").json()
    assert made in lab.get(BRANDS).json()["results"]
    address = f"{BRANDS}{made['slug']}/"
    assert lab.patch(address, {"name": "Otterby"}, format="json").json()["fields"].keys() == {"reason"}
    answer = lab.patch(address, {"name": "Otterby", "reason": "misspelt"}, format="json")
    assert (answer.status_code, answer.json()) == (200, {"slug": made["slug"], "name": "Otterby"})
    assert lab.get(address).json()["name"] == "Otterby"
    other = lab.post(BRANDS, {"name": "Fenwald"}, format="json").json()
    doublet = lab.patch(f"{BRANDS}{other['slug']}/", {"name": "otterby", "reason": "x"}, format="json")
    assert doublet.status_code == 409
    assert "Otterby" in doublet.content.decode()
    assert lab.patch(f"{BRANDS}none/", {"name": "a", "reason": "b"}, format="json").status_code == 404
    assert api_for(cast.fitter_a).get(BRANDS).status_code == 403


def test_duplicate_is_merged_into_the_shoe_that_stays(lab, make_shoe):
    gone = make_shoe("corvane-lantern-1b", published=False, version="1b")
    stays = make_shoe("corvane-lantern-1", published=False)
    address = f"{SHOES}{gone.slug}/merge/"
    unknown = lab.post(address, {"into": "no-such", "reason": "twice"}, format="json")
    assert (unknown.status_code, list(unknown.json()["fields"])) == (400, ["into"])
    answer = lab.post(address, {"into": stays.slug, "reason": "twice"}, format="json")
    assert (answer.status_code, answer.json()["slug"]) == (200, stays.slug)
    assert entries_of(gone).order_by("-id").first().action == "catalogue.shoe.merged"
    again = lab.post(address, {"into": stays.slug, "reason": "twice"}, format="json")
    assert (again.status_code, again.json()["code"]) == (409, "merged")


@pytest.fixture
def wanted(cast, make_shoe):
    """Pairs of two widths received, some sold, one reserved."""
    shoe = make_shoe("corvane-lantern-1", name="Lantern", version="1")
    for kind, quantity, width in (("received", 3, "D"), ("received", 1, "2E"), ("sold", 3, "D")):
        pairs = [Pairs(shoe, SIZE, quantity, width)]
        stock_move(actor=None, store=cast.store_a, kind=MovementKind(kind), pairs=pairs)
    reservation_make(
        actor=None,
        store=cast.store_a,
        shoe=shoe,
        size_eu=SIZE,
        quantity=1,
        note="Wren",
        until=timezone.localdate(),
        width="2E",
    )
    return shoe


def test_order_list_has_a_line_for_each_width(manager, wanted):
    body = manager.get(ORDERS, {"page_size": "1"}).json()
    assert body["count"] == 2
    assert body["results"] == [
        {
            "shoe": "corvane-lantern-1",
            "title": "Corvane Lantern 1",
            "size_eu": 42.0,
            "size": "EU 42",
            "width": "D",
            "in_stock": 0,
            "reserved": 0,
            "on_the_way": 0,
            "sold": 3,
            "chosen": 0,
            "to_order": 3,
        }
    ]
    second = manager.get(ORDERS, {"page_size": "1", "page": "2"}).json()["results"][0]
    assert (second["width"], second["in_stock"], second["reserved"], second["to_order"]) == ("2E", 1, 1, 0)
    assert "Wren" not in str(second)


def test_order_list_is_for_managers_of_the_store(manager, cast, api_for):
    assert api_for(cast.fitter_a).get(ORDERS).status_code == 403
    assert manager.get("/api/catalogue/stores/store-b/orders/").status_code == 404
    assert manager.get(ORDERS, {"size": "42"}).status_code == 400


def test_order_list_costs_the_same_for_many(manager, cast, make_shoe, django_assert_max_num_queries):
    for number in range(5):
        shoe = make_shoe(f"corvane-more-{number}", name=f"More {number}", published=False)
        for kind in (MovementKind.RECEIVED, MovementKind.SOLD):
            stock_move(actor=None, store=cast.store_a, kind=kind, pairs=[Pairs(shoe, SIZE, 1)])
    assert StockItem.objects.count() == 5
    with django_assert_max_num_queries(12):
        assert manager.get(ORDERS).json()["count"] == 5
