from __future__ import annotations

from decimal import Decimal

import pytest

from catalogue import selectors
from catalogue.filters import ORDERS, ShoeFilter


@pytest.fixture
def shoes(make_shoe, make_store, put_in_stock):
    """Four published shoes, one in each of the lower bands and uses, and one that is not published."""
    harbour, mill = make_store("harbour", "Harbour"), make_store("mill-lane", "Mill Lane")
    flexible = make_shoe("flexible", stability=45.0, mass_g=220.0, use="walking", stack_forefoot_mm=30.0)
    light = make_shoe("light", stability=55.0, mass_g=250.0, brand="Odderby")
    medium = make_shoe("medium", stability=65.0, mass_g=290.0, version="7")
    make_shoe("firm", stability=75.0, mass_g=None, stack_heel_mm=None, use="standing")
    hidden = make_shoe("hidden", published=False)
    put_in_stock(harbour, flexible, "42", "42.5")
    put_in_stock(harbour, light, "42")
    put_in_stock(mill, medium, "42", "43")
    put_in_stock(mill, light, "44", quantity=0)
    put_in_stock(mill, hidden, "42")


def slugs(**wanted):
    return [shoe.slug for shoe in selectors.shoe_list(ShoeFilter(**wanted), limit=50)]


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize(
    ("wanted", "left"),
    [
        ({}, ["flexible", "light", "medium", "firm"]),
        ({"bands": (1, 4)}, ["flexible", "firm"]),
        ({"uses": ("walking", "standing")}, ["flexible", "firm"]),
        ({"midfoot_min": 57.0, "midfoot_max": 67.0}, ["light", "medium"]),
        ({"rearfoot_max": 53.0}, ["flexible", "light"]),
        ({"cushioning_min": 60.0}, ["flexible", "light", "medium", "firm"]),
        ({"cushioning_min": 60.1}, []),
        ({"mass_max": 250.0}, ["flexible", "light"]),
        ({"drop_max": 4.0}, ["flexible"]),
        ({"drop_min": 5.0}, ["light", "medium"]),
        ({"size": Decimal("42.5")}, ["flexible"]),
        ({"size": Decimal("42")}, ["flexible", "light", "medium"]),
        ({"size": Decimal("44")}, []),
        ({"store": "harbour"}, ["flexible", "light"]),
        ({"store": "mill-lane", "size": Decimal("42")}, ["medium"]),
        ({"store": "harbour", "size": Decimal("43")}, []),
        ({"q": "odderby"}, ["light"]),
        ({"q": "corvane MED 7"}, ["medium"]),
        ({"q": "odderby medium"}, []),
        ({"q": "%"}, []),
    ],
)
def test_filter_leaves(wanted, left):
    assert slugs(**wanted) == left


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize(
    ("order", "found"),
    [
        ("-stability", ["firm", "medium", "light", "flexible"]),
        ("mass", ["flexible", "light", "medium", "firm"]),
        ("-mass", ["medium", "light", "flexible", "firm"]),
        ("drop", ["flexible", "light", "medium", "firm"]),
        ("-drop", ["light", "medium", "flexible", "firm"]),
        ("name", ["firm", "flexible", "medium", "light"]),
    ],
)
def test_order_puts_missing_values_last(order, found):
    assert slugs(order=order) == found


@pytest.mark.usefixtures("shoes")
@pytest.mark.parametrize("order", ORDERS)
def test_every_order_keeps_every_shoe(order):
    assert sorted(slugs(order=order)) == ["firm", "flexible", "light", "medium"]


@pytest.mark.usefixtures("shoes")
def test_counts_say_what_each_choice_would_leave():
    counts = selectors.filter_counts(ShoeFilter(bands=(1,), mass_max=250.0), [1, 2, 3, 4, 5])
    assert (counts.published, counts.matching) == (4, 1)
    assert counts.by_band == {1: 1, 2: 1, 3: 0, 4: 0, 5: 0}
    assert counts.by_use == {"running": 0, "walking": 1, "standing": 0}
    assert counts.let_go == {"band": 2, "mass": 1}


@pytest.mark.usefixtures("shoes")
def test_counts_agree_with_the_list():
    for wanted in (ShoeFilter(), ShoeFilter(store="harbour"), ShoeFilter(size=Decimal("42"), uses=("running",))):
        counts = selectors.filter_counts(wanted, [1, 2, 3, 4, 5])
        assert counts.matching == len(selectors.shoe_list(wanted, limit=50)) == selectors.matching_count(wanted)


@pytest.mark.usefixtures("shoes")
def test_spectrum_holds_every_published_shoe_and_marks_the_matching():
    points = selectors.spectrum_points(ShoeFilter(store="harbour"))
    assert [(point.slug, point.is_match) for point in points] == [
        ("flexible", True),
        ("light", True),
        ("medium", False),
        ("firm", False),
    ]
    assert points[0].expanded_u == 2.0
    assert all(point.is_match for point in selectors.spectrum_points(ShoeFilter()))


@pytest.mark.usefixtures("shoes")
def test_stock_of_a_shoe_lists_only_what_is_there():
    light = selectors.shoe_get("light")
    assert [(store.slug, store.sizes) for store in light.stores] == [("harbour", (Decimal("42.0"),))]


@pytest.mark.usefixtures("shoes")
def test_candidates_can_be_narrowed():
    assert [shoe.slug for shoe in selectors.candidates()] == ["flexible", "light", "medium", "firm"]
    assert [shoe.slug for shoe in selectors.candidates(uses=["standing"])] == ["firm"]
    assert [shoe.slug for shoe in selectors.candidates(stability_between=(55.0, 65.0))] == ["light", "medium"]
    assert [shoe.slug for shoe in selectors.candidates(slugs=["firm", "hidden"])] == ["firm"]
    assert [shoe.slug for shoe in selectors.candidates(limit=1)] == ["flexible"]


@pytest.mark.usefixtures("shoes")
def test_store_counts_its_published_shoes():
    assert {store.slug: store.shoes for store in selectors.store_list()} == {"harbour": 2, "mill-lane": 1}
    held = selectors.stock_for_store("harbour", limit=10)
    assert [(shoe.slug, [store.slug for store in shoe.stores]) for shoe in held] == [
        ("flexible", ["harbour"]),
        ("light", ["harbour"]),
    ]
